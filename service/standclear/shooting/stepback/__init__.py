"""The step-back trigger, without threads, clocks or cameras: pictures with their times in, a state
and the wish to expose out. ``states.py`` holds the table; start reading there."""

"""The set at work: the one owner of the camera, the trigger, the watches."""

"""The watches: what each new exposure's measurements mean for the animator. Pure decisions.

`shot_watch.ShotWatch` is the way in; `steady.diagnose` judges a steady test.
"""

"""Points for the levels that keep every judged comparison with the widest margin: `python -m kb.calibrate`."""

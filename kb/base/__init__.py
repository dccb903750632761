"""What everything stands on: faults in one line, units, closed lists, places and spellings."""

"""The plan of a date: zones at work, their runs, their reasons in words, and the days after."""

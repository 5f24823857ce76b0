"""Dates that no reader can take for another: the month is a word."""

DATE_FORMAT = "j M Y"
TIME_FORMAT = "H:i"
DATETIME_FORMAT = "j M Y, H:i"
SHORT_DATE_FORMAT = "Y-m-d"
DATE_INPUT_FORMATS = ["%Y-%m-%d"]
FIRST_DAY_OF_WEEK = 1

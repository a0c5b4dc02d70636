"""Checks a finished plan against the inputs and the hourly series, without the program's code."""

"""Steering: the loop that trims the pulse width, its constants for the firmware, and its trial run."""

"""Alarm troubleshooting for balloon pumps as decision trees: read, proved, and shown."""

__version__ = "0.1.0"

"""Turns what the services answer into view models; the command line and the dashboard share it."""

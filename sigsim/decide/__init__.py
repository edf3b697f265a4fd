"""Decisions: plain results from states and metrics, without a word about how they are shown."""

"""Plots: results in, axes out; one module a command, one look for all."""

"""Every combination: how the losses spread, which are worst, what each switch does."""

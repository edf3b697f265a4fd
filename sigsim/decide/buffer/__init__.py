"""Where a buffer goes: the places, what each gains, what else would do."""

"""What several tests share; no module of tests imports another."""

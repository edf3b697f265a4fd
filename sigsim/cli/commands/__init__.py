"""One module per command, loaded only when the command is used."""

"""The live page: a board file that is edited in a browser, and the server that it asks."""

"""What a person sees: results in; text, tables, plots out. Nothing is computed here."""

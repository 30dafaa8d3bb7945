"""Results become pages: charts, HTML, PDF. Nothing is computed here."""

"""Pages, figures, words and workbooks: composed from verdicts and tables; nothing is computed here."""

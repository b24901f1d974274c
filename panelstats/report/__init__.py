"""Pages, figures and workbooks: they compose results and compute nothing."""

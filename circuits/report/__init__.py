"""The report: one page that a maker prints and takes to the bench."""

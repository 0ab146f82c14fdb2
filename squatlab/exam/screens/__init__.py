"""What a candidate or a certifier sees: the sitting, stills, and pages to print."""

"""Questions: what a trainee is asked, in practice and in an exam, and what is right."""

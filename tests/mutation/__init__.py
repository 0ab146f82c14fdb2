"""Change the code a little, and see whether the tests notice."""

"""Many boards of one design: spread, worst case, search and what each tolerance does."""

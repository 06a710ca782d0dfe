"""The parts catalogue as data files, one file a kind, one table a part."""

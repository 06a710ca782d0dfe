"""SPICE decks of the stages."""

"""Where a catalogue part, a stated value and an equation meet, one module a stage."""

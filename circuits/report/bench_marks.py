"""The test points that circuit, bench list and oscilloscope pictures share."""

from circuits.ledger import TestPoint

MARKS = {
    "base": "TP1",
    "gate": "TP1",
    "switch node": "TP2",
    "pickup, before": "TP3",
    "pin": "TP4",
    "cells": "TP5",
    "supply's terminals": "TP5",
    "1 ohm shunt": "TP6",
}
"""How the name of a place begins, and its mark in the circuit."""


def tag_of(point: TestPoint) -> str:
    """Return the mark of an electrical test point, nothing for a mechanical one."""
    place = point.point.lower()
    return next((mark for begins, mark in MARKS.items() if place.startswith(begins)), "")


def traces(kind: str) -> dict[str, str]:
    """Return the curves that the oscilloscope's picture shows, each with mark and name."""
    return {
        "base": "TP1 gate" if kind == "nmos" else "TP1 base",
        "node": "TP2 switch node",
        "current": "TP6 coil current",
        "tap": "TP3 before the filter",
        "pin": "TP4 at the pin",
    }

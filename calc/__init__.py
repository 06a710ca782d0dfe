"""Equations of the drive and sense circuit: SI numbers in, numbers or small frozen results out."""

from calc.calculator import OutOfRangeError, fields_on_samples, on_samples

__all__ = ["OutOfRangeError", "fields_on_samples", "on_samples"]

"""The errors that every unusable input ends in."""


class DesignFileError(ValueError):
    """Raised where an input cannot be used; says where, what was found and what would do.

    Attributes
    ----------
    file, section, key : str
        The place; empty where it does not apply.
    found : str
        What stands there, shortened for print.
    wanted : str
        What would do instead, as an instruction.
    """

    def __init__(self, *, file: str, section: str = "", key: str = "", found: str, wanted: str):
        self.file = file
        self.section = section
        self.key = key
        self.found = found
        self.wanted = wanted
        place = f"[{section}] {key}".strip() if section else key
        where = f"{file}: {place}" if place else file
        super().__init__(f"{where}: found {found}; {wanted}")


class QuantityError(ValueError):
    """Raised for a text that is no quantity of the wanted kind.

    Attributes
    ----------
    found : str
        What stands there, fit for print.
    wanted : str
        What would do, as an instruction.
    """

    def __init__(self, *, found: str, wanted: str):
        self.found = found
        self.wanted = wanted
        super().__init__(f"found {found}; {wanted}")

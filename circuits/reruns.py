"""Runs of one design with changes, each followed as far as a remedy needs it."""

from collections.abc import Callable

from circuits.design import Design
from circuits.design_write import with_changes
from circuits.errors import DesignFileError
from circuits.ledger import Finding
from circuits.remedies import Changes
from circuits.stage_pass import StagePass, StillFailsError

Run = Callable[[Design, StagePass, str], StagePass]
"""Run the stages of a design after an earlier pass, up to one in which a finding fails."""


class Reruns:
    """Tries changes of a design; a stage that has run for some changes does not run again.

    Parameters
    ----------
    done : StagePass
        The run of the design as it stands.
    run : callable
        Runs the stages of a changed design.
    """

    def __init__(self, done: StagePass, run: Run) -> None:
        self._done = done
        self._run = run
        self._known: dict[Changes, StagePass | None] = {}

    def still_fails(self, changes: Changes, finding: str) -> bool:
        """Return whether a finding fails with the changes too, or they cannot be used."""
        return self._followed(changes, finding) is None

    def findings(self, changes: Changes) -> dict[str, Finding] | None:
        """Return all findings with the changes; None where they cannot be used."""
        done = self._followed(changes, "")
        return None if done is None else done.ledger.findings

    def _followed(self, changes: Changes, until: str) -> StagePass | None:
        earlier = self._known.get(changes, self._done)
        if earlier is None:
            return None
        try:
            known = changes in self._known
            design = earlier.design if known else with_changes(self._done.design, changes)
            done = self._run(design, earlier, until)
        except StillFailsError as still:
            self._known[changes] = still.done
            return None
        except DesignFileError:
            self._known[changes] = None
            return None
        self._known[changes] = done
        return done

"""The planned loop of a design, whether or not its file asks for one, and the stages behind it."""

from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.driven import Driven
from circuits.errors import DesignFileError
from circuits.ledger import Ledger
from circuits.pipeline import run as run_stages
from circuits.stage_pass import StagePass
from circuits.stages.steering import plan_loop
from circuits.stages.steering_loop import SteeringResult


def planned_loop(design: Design) -> tuple[StagePass, SteeringResult, Ledger]:
    """Run the stages and plan the loop.

    Parameters
    ----------
    design : Design
        The design file.

    Returns
    -------
    done : StagePass
        What the stages found.
    loop : SteeringResult
        The loop.
    ledger : Ledger
        What is to be said of the loop.

    Raises
    ------
    DesignFileError
        If the stages cannot use the figures, or no loop can be planned.
    """
    done = run_stages(design, Catalogue(design.part, design.file))
    ledger = Ledger()
    names = ("rails", "coil", "linkage", "movement", "emf", "drive", "clamp", "filter", "passes")
    pulse = done.result("pulse")
    driven = Driven(
        design=design, width=pulse.width, t_on=pulse.t_on,
        **{name: done.result(name) for name in names},
    )  # fmt: skip
    loop = plan_loop(
        design, ledger, driven, done.result("rate"), done.result("settled"),
        done.result("timing").jitter,
    )  # fmt: skip
    if loop is None:
        finding = ledger.findings["steering.plan"]
        raise DesignFileError(
            file=design.file, section="rate",
            found=f"a movement that no loop can steer: {finding.text.rstrip('.')}",
            wanted=finding.remedy[:1].lower() + finding.remedy[1:].rstrip("."),
        )  # fmt: skip
    return done, loop, ledger

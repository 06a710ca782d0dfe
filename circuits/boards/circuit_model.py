"""The circuit's closed-form figures of many boards at once, by the sheet's own calculators.

What a stage finds by iteration is not here: it comes from the map of the stages. Each figure
here equals the stage's to rounding, board by board; a test holds every one of them to that.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from math import inf
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.bipolar import base_current, forced_gain, pin_current
from calc.calculator import OutOfRangeError, Samples, fields_on_samples, on_samples
from calc.divider import divider, loading_loss
from calc.ladder import ladder, response
from calc.magnet import remanence_at_temperature
from calc.mosfet import gate_voltage
from calc.ringdown import arc_time_constant, periods_to_fall, swing_loss
from calc.supply import stuck_power
from calc.swing_energy import pendulum_swing_loss
from calc.wire import resistance_at_temperature
from circuits.boards.board_parts import R_INTERNAL, SPENT, TIMES_SPENT
from circuits.boards.one_board import BoardMaker
from circuits.catalogue import Transistor
from circuits.ledger import Ledger
from circuits.stages.drive_nmos import resistors
from circuits.stages.drive_npn import LEAST_SHARE
from circuits.stages.drive_pin import pin_of
from circuits.stages.rails import DROPOUT
from circuits.stages.switch_figures import base_voltage, forced_gain_of

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_FITTED = (
    ("drive.base_resistor", "drive.r_b"),
    ("drive.pull_down", "drive.r_pull_down"),
    ("clamp.resistor", "clamp.resistor"),
    ("pickup.upper", "pickup.r_upper"),
    ("pickup.lower", "pickup.r_lower"),
    ("pickup.bypass", "pickup.bypass"),
    ("pickup.coupling", "pickup.coupling"),
    ("filter.resistor", "filter.r"),
    ("filter.capacitor", "filter.c"),
    ("indicator.resistor", "indicator.r"),
)


class CircuitModel:
    """Closed-form figures of boards whose shares are given.

    Parameters
    ----------
    maker : BoardMaker
        The design as it is built, its parts and its centre.
    shares : mapping
        Samples of each tolerance, by its name.
    """

    def __init__(self, maker: BoardMaker, shares: Mapping[str, Array]) -> None:
        self.maker, self.shares = maker, shares
        self.built, self.centre = maker.built, maker.centre
        self.size = len(next(iter(shares.values()))) if shares else 1
        self.refused: list[tuple[str, Mask]] = []
        self.figures: dict[str, Array] = {}

    def run(self) -> dict[str, Array]:
        """Return the figures by id; boards without an answer are listed in `refused`."""
        known = self.centre.ledger.values
        self._rails()
        self._windings()
        self._movement()
        for name, figure in _FITTED:
            if figure in known:
                self.figures[figure] = self._sized(name)
        for group in (self._switch, self._pickup, self._filter):
            try:
                group()
            except OutOfRangeError:
                # No board has an answer here: the stage takes another way, and the map follows.
                continue
        return {name: values for name, values in self.figures.items() if name in known}

    def _times(self, name: str) -> Array:
        """Return each board's value over the sheet's."""
        if name not in self.shares:
            return np.ones(self.size)
        return 1 + self.maker.tolerances[name].excess(self.shares[name])

    def _sized(self, name: str) -> Array:
        section, _, key = name.partition(".")
        return float(getattr(getattr(self.built, section), key)) * self._times(name)

    def _kept(
        self, work: Callable[..., Any], function: Callable[..., Any], **given: ArrayLike
    ) -> Any:
        """Call a calculator; boards out of its range are noted and take the first good board's."""
        arrays = {name: np.asarray(value, dtype=np.float64) for name, value in given.items()}
        while True:
            try:
                return work(function, **arrays)
            except OutOfRangeError as error:
                bad = np.broadcast_to(error.mask, (self.size,))
                if bad.all():
                    raise
                self.refused.append((str(error).partition(";")[0], bad))
                good = int(np.argmin(bad))
                arrays = {
                    name: np.where(bad, np.broadcast_to(value, (self.size,))[good], value)
                    for name, value in arrays.items()
                }

    def _one(self, function: Callable[..., float], **given: ArrayLike) -> Array:
        found = self._kept(on_samples, function, **given)
        return np.array(np.broadcast_to(found, (self.size,)))

    def _many(self, function: Callable[..., Any], **given: ArrayLike) -> Samples:
        found: Samples = self._kept(fields_on_samples, function, **given)
        return found

    def _rails(self) -> None:
        supply, rails = self.built.supply, self.centre.result("rails")
        extra = supply.resistance or 0.0
        if supply.cell:
            cell = self.maker.catalogue.cell(supply.cell)
            series, parallel = supply.series or 1, supply.parallel or 1
            worn = self.shares.get("supply.life", np.zeros(self.size))
            v_spent = rails.cutoff_per_cell or cell.cutoff_typ
            v_in = series * (cell.v_fresh + SPENT * worn * (v_spent - cell.v_fresh))
            one = R_INTERNAL if cell.r_internal is None else cell.r_internal
            spent = TIMES_SPENT * one if cell.r_internal_spent is None else cell.r_internal_spent
            r_source = (one + worn * (spent - one)) * series / parallel + extra
        else:
            v_in = self._sized("supply.voltage")
            r_source = np.full(self.size, extra)
        v_logic = v_in
        if supply.regulator_output is not None:
            dropout = DROPOUT if supply.regulator_dropout is None else supply.regulator_dropout
            output = self._sized("supply.regulator_output")
            v_logic = np.maximum(np.minimum(output, v_in - dropout), 0.05)
        regulated = supply.coil_rail == "regulated"
        self.v_logic, self.v_coil = v_logic, v_logic if regulated else v_in
        self.r_source = np.zeros(self.size) if regulated else r_source
        # Spent cells are spent on every board; a stated voltage is the same in both states.
        self.v_logic_spent, self.v_coil_spent = self.v_logic, self.v_coil
        if supply.cell:
            spent_logic = v_spent * series * np.ones(self.size)
            self.v_coil_spent = spent_logic
            if supply.regulator_output is not None:
                spent_logic = np.maximum(np.minimum(output, spent_logic - dropout), 0.05)
            self.v_logic_spent = spent_logic
            if regulated:
                self.v_coil_spent = spent_logic
        self.figures["supply.v_coil_fresh"] = self.v_coil
        self.figures["supply.v_logic_fresh"] = self.v_logic
        self.figures["supply.r_source"] = r_source

    def _windings(self) -> None:
        here = self.built.design.temperature or 0.0
        tolerance = self.maker.tolerances.get("design.temperature")
        warmer = np.zeros(self.size)
        if tolerance is not None:
            warmer = tolerance.excess(self.shares[tolerance.name])
        there = here + warmer
        for section in ("coil", "pickup_coil"):
            if getattr(self.built, section) is None:
                continue
            found = self.maker.done.result(section)
            r_coil = self._one(
                resistance_at_temperature, r=found.r_coil * self._times(f"{section}.winding"),
                t_from=here, t_to=there,
            )  # fmt: skip
            self.figures[f"{section}.r_coil"] = r_coil
            if found.count == 1:  # the gap sets how two coils stand, and so their inductance
                self.figures[f"{section}.tau"] = found.l_coil / r_coil
        magnet = self.built.magnet
        if magnet.remanence is not None:
            self.figures["linkage.b_r"] = self._sized("magnet.remanence")
        elif magnet.grade:
            grade = self.maker.catalogue.magnet(magnet.grade)
            middle = (grade.b_r_min + grade.b_r_max) / 2
            self.figures["linkage.b_r"] = self._one(
                remanence_at_temperature, b_r=middle * self._times("magnet.remanence"),
                alpha_b_r=grade.alpha_b_r or 0.0, temperature=there,
            )  # fmt: skip

    def _movement(self) -> None:
        movement = self.maker.done.result("movement")
        q_factor = movement.q_typ * self._times("movement.quality_factor")
        self.figures["movement.quality_factor"] = q_factor
        self.figures["movement.periods_to_half"] = self._one(
            periods_to_fall, q_factor=q_factor, arc_ratio=0.5
        )
        self.figures["movement.time_constant"] = self._one(
            arc_time_constant, q_factor=q_factor, period=movement.period
        )
        if movement.kind == "balance":
            loss = self._one(swing_loss, energy=movement.energy, q_factor=q_factor)
        else:
            loss = self._one(
                pendulum_swing_loss, inertia=movement.inertia, period=movement.period,
                arc=movement.arc, q_factor=q_factor,
            )  # fmt: skip
        extra = self.built.movement.work_per_swing or 0.0
        self.figures["movement.loss_per_swing"] = loss + extra

    def _switch(self) -> None:
        r_coil = self.figures["coil.r_coil"]
        self.figures["drive.p_stuck"] = self._one(stuck_power, v_coil=self.v_coil, r_coil=r_coil)
        pin = pin_of(self.built, self.maker.catalogue, Ledger(), self.centre.result("rails"))
        r_pin = pin.resistance * self._times("controller.pin_resistance")
        high = self.built.controller.pin_high
        stated = isinstance(high, float | int)
        v_pin = np.full(self.size, high, dtype=np.float64) if stated else self.v_logic
        part = self.maker.catalogue.transistor(self.built.drive.transistor or "")
        if isinstance(part, Transistor):
            self._bipolar(part, v_pin, r_pin)
            return
        r_g, usual = resistors(self.built)
        pull_down = self._sized("drive.pull_down") if self.built.drive.pull_down else usual
        for state, v in (("", v_pin), ("_spent", v_pin if stated else self.v_logic_spent)):
            v_gs = self._one(
                gate_voltage, v_pin=v, r_pin=r_pin, r_g=r_g, g_pull_down=1 / np.asarray(pull_down)
            )
            if not state:
                self.figures["drive.i_pin"] = v_gs / pull_down
            self.figures[f"drive.v_gs{state}"] = v_gs

    def _bipolar(self, part: Transistor, v_pin: Array, r_pin: Array) -> None:
        rails, built = self.centre.result("rails"), self.built
        r_coil = self.figures["coil.r_coil"]
        i_coil = self.v_coil / (r_coil + self.r_source)
        regulated = built.supply.coil_rail == "regulated"
        v_max = self._v_max()
        v_highest = self.v_coil if regulated else np.maximum(v_max, self.v_coil)
        v_be = self._v_be(part, v_highest / (r_coil + self.r_source))
        r_b = self._sized("drive.base_resistor") + 1e-9
        g = np.zeros(self.size)
        if built.drive.pull_down:
            g = 1 / self._sized("drive.pull_down")
        self.figures["drive.i_pin"] = self._one(
            pin_current, v_pin=v_pin, r_pin=r_pin, r_b=r_b, v_be=v_be
        )
        i_b = self._one(base_current, v_pin=v_pin, r_pin=r_pin, r_b=r_b, v_be=v_be, g_pull_down=g)
        beta = built.drive.forced_gain or forced_gain_of(part, rails.v_max / float(r_coil.min()))
        least = LEAST_SHARE / beta * i_coil
        self.figures["drive.beta_forced"] = self._one(
            forced_gain, i_c=i_coil, i_b=np.maximum(i_b, least)
        )
        duty = float(self.centre.ledger.values["energy.duty"].value)
        self.figures["energy.i_drive"] = np.maximum(i_b, least) * duty

    def _v_max(self) -> Array:
        v_max = float(self.centre.result("rails").v_max)
        return v_max * self._times("supply.voltage")

    def _v_be(self, part: Transistor, i_highest: Array) -> Array:
        """Return each board's base-emitter voltage at the catalogue's point for its current."""
        share = self.shares.get("part.v_be", np.zeros(self.size))
        points = sorted(part.saturation, key=lambda point: point.i_c)
        rows = []
        for point in points:
            one = base_voltage(replace(part, saturation=(point,)), point.i_c, None)
            ends = np.where(share > 0, one.high, one.low)
            rows.append(one.typ + np.abs(share) * (ends - one.typ))
        limits = np.array([point.i_c for point in points])
        at = np.minimum(np.searchsorted(limits, i_highest), len(points) - 1)
        found: Array = np.array(rows)[at, np.arange(self.size)]
        return found

    def _pickup(self) -> None:
        pickup = self.centre.result("pickup")
        at_switch = pickup.arrangement == "at_switch"
        series = self.figures["coil.r_coil"] if at_switch else 0.0
        upper, lower = self._sized("pickup.upper"), self._sized("pickup.lower")
        load = inf if pickup.pin is None else pickup.pin.r_load
        v = self.v_coil if at_switch else self.v_logic
        v_spent = self.v_coil_spent if at_switch else self.v_logic_spent
        fresh, spent = (
            self._many(divider, v_supply=one, r_upper=series + upper, r_lower=lower, r_load=load)
            for one in (v, v_spent)
        )
        self.figures["pickup.v_bias"] = fresh.column("v_loaded")
        self.figures["pickup.r_source"] = fresh.column("r_source")
        self.figures["pickup.i_drain"] = fresh.column("i_drain")
        self.figures["energy.i_divider"] = fresh.column("i_drain")
        self.figures["pickup.i_drain_spent"] = spent.column("i_drain")
        listening = self.figures.get("pickup_coil.r_coil", self.figures["coil.r_coil"])
        source, across = (series, upper + lower) if at_switch else (listening, load)
        if pickup.coupling is not None and not at_switch:
            across = 1 / (1 / upper + 1 / lower)
        self.figures["pickup.loading"] = self._one(loading_loss, r_source=source, r_load=across)

    def _filter(self) -> None:
        pickup, found = self.centre.result("pickup"), self.centre.result("filter")
        if pickup.coupling is not None:
            return
        at_switch = pickup.arrangement == "at_switch"
        r, c = self._sized("filter.resistor"), self._sized("filter.capacitor")
        second = float(len(found.r) - 1)
        listening = self.figures.get("pickup_coil.r_coil", self.figures["coil.r_coil"])
        solved = self._many(
            ladder, r_source=listening, r_upper=self._sized("pickup.upper") if at_switch else 0.0,
            r_lower=self._sized("pickup.lower") if at_switch else inf, r_3=r, c_1=c,
            r_4=second * r, c_2=second * c,
            r_load=inf if pickup.pin is None else pickup.pin.r_load, l_source=pickup.l_winding,
        )  # fmt: skip
        self.figures["filter.f_c"] = solved.column("f_c")
        self.figures["filter.mains_gain"] = self._many(
            response, f=found.f_mains, gain_dc=1.0, tau_high=inf,
            tau_slow=solved.column("tau_slow"), tau_fast=solved.column("tau_fast"),
        ).column("gain")  # fmt: skip

"""Prints how much faster a board's pickup and filter come than from one ngspice run a board.

python -m benchmarks.spread_against_ngspice
"""

import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from benchmarks.timing import median_time
from circuits.boards.board_samples import draw
from circuits.boards.circuit_model import CircuitModel
from circuits.boards.fitted import fitted
from circuits.boards.gathering import Gathering
from circuits.boards.one_board import BoardMaker
from circuits.boards.side_by_side import Boards
from circuits.boards.stage_runs import map_stages
from circuits.boards.tolerances import tolerances_of
from circuits.catalogue import Catalogue
from circuits.design_file import read_design
from circuits.pipeline import run
from circuits.spice_circuits import listening_circuit, stages_of
from netlists.filter_deck import response_deck, response_figures
from netlists.locate import find_ngspice, ngspice_version
from netlists.runner import run_deck

EXAMPLE = Path(__file__).parents[1] / "examples" / "foyer_sculpture.toml"
BOARDS = 100_000
SIMULATED = 20
WANTED = 10_000


def main() -> None:
    design = read_design(EXAMPLE)
    catalogue = Catalogue(design.part, design.file)
    done = run(design, catalogue)
    built = fitted(done)
    tolerances = tolerances_of(design, built, catalogue, done)
    maker = BoardMaker(built, catalogue, done, tolerances)
    shares = draw(tolerances, BOARDS, 1, "uniform")
    columns = dict(zip((one.name for one in tolerances), shares.T, strict=True))
    figures = CircuitModel(maker, columns).run()
    arrays = median_time(lambda: CircuitModel(maker, columns).run())

    program = find_ngspice()
    version = ngspice_version(program)
    circuit = listening_circuit(stages_of(maker.centre, catalogue))
    mains = maker.centre.result("filter").f_mains

    def simulate(board: int) -> float:
        path = replace(
            circuit.path, upper=float(figures["pickup.r_upper"][board]),
            lower=float(figures["pickup.r_lower"][board]),
            r=(float(figures["filter.r"][board]),), c=(float(figures["filter.c"][board]),),
        )  # fmt: skip
        winding = float(figures["coil.r_coil"][board])
        deck, analysis = response_deck(replace(circuit, r_winding=winding, path=path))
        found = run_deck(
            deck, program=program, version=version, vectors=analysis.vectors, end=analysis.end
        )
        return response_figures(found, analysis, mains).f_c

    start = time.perf_counter()
    simulated = [simulate(board) for board in range(SIMULATED)]
    each = (time.perf_counter() - start) / SIMULATED
    off = np.abs(np.array(simulated) / figures["filter.f_c"][:SIMULATED] - 1).max()

    start = time.perf_counter()
    boards = Boards(maker)
    mapped = map_stages(boards, seed=1)
    whole = time.perf_counter() - start
    used = time.process_time()
    summed = median_time(
        lambda: Gathering(
            boards, mapped, draw(tolerances, BOARDS, 1, "uniform")
        ).spread("benchmark", 1, "uniform"), 3,
    )  # fmt: skip

    used = (time.process_time() - used) / 4
    print(f"one ngspice run a board ({version.splitlines()[0]}): {1e3 * each:.1f} ms")
    print(f"{len(figures)} figures of {BOARDS} boards by the calculators: {arrays:.3f} s, "
          f"{1e6 * arrays / BOARDS:.2f} us a board")  # fmt: skip
    print(f"ratio a board: {each / (arrays / BOARDS):.0f} (wanted: {WANTED}); cut-off of "
          f"{SIMULATED} boards differs by {off:.1e} at most")  # fmt: skip
    print(f"all {len(mapped.columns)} figures and checks of {BOARDS} boards, worst boards and "
          f"strongest tolerances included: {summed:.2f} s, "
          f"{used:.2f} s of processor time over two cores")  # fmt: skip
    print(f"map of pulse, crossing and movement before that, {mapped.runs} boards run whole: "
          f"{whole:.1f} s")  # fmt: skip


if __name__ == "__main__":
    main()

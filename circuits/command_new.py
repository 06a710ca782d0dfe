"""`coilwright new`: six questions, and a commented starting design."""

import argparse
import json
import sys

from circuits.output import write_out

EXAMPLE = """\
worked example:
  coilwright new foyer.toml
      asks six questions; Enter takes the example in brackets
  coilwright new foyer.toml --answers "pendulum, 1.8 s; 700 g; 4 deg; 15 mm, 8 mm, N42, 6 mm;
                                       14 mm, 36 mm, 10 mm, 0.2 mm; 3 x LR20"
      the same without a question: six answers with semicolons between them, in this order:
      movement (pendulum or balance, then period or a pendulum's effective length);
      mass of the bob, or inertia of the balance;
      half arc or travel of the magnet, then pivot to magnet face if known;
      magnet diameter, height, grade, gap;
      coil inner diameter, outer diameter, height, bare wire;
      cells in series or voltage. An empty answer takes the example's.
  coilwright design foyer.toml
      sizes and checks it

exit code: 0 written, 2 an answer or the file cannot be used, 130 interrupted; then nothing is
written
"""


def add_parser(subparsers: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command's arguments."""
    parser = subparsers.add_parser(
        "new",
        description="Ask six questions and write a commented starting design.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("file", metavar="FILE", help="the design file to write (TOML)")
    parser.add_argument("--answers", metavar="TEXT", help="six answers, semicolons between them")
    parser.add_argument("--force", action="store_true", help="overwrite a file that exists")
    parser.add_argument("--json", action="store_true", help="say what was written as JSON")


def _from_text(answers: str) -> dict[str, str]:
    from circuits.errors import DesignFileError
    from circuits.new_questions import QUESTIONS, read_answer

    given = answers.split(";")
    if len(given) != len(QUESTIONS):
        raise DesignFileError(
            file="answers",
            found=f"{len(given)} answers",
            wanted=f"give {len(QUESTIONS)} with semicolons between them; an empty one takes the "
            "example's",
        )
    texts: dict[str, str] = {}
    for question, answer in zip(QUESTIONS, given, strict=True):
        texts |= read_answer(question, answer, texts)
    return texts


def _asked() -> dict[str, str]:
    """Ask on the terminal; an answer that will not do is explained and asked again."""
    from circuits.errors import DesignFileError
    from circuits.new_questions import QUESTIONS, default, read_answer

    again = sys.stdin.isatty()
    texts: dict[str, str] = {}
    for number, question in enumerate(QUESTIONS, start=1):
        while True:
            print(
                f"{number}/{len(QUESTIONS)} {question.words} [{default(question, texts)}]: ",
                end="",
                file=sys.stderr,
                flush=True,
            )
            line = sys.stdin.readline()
            if not line:
                raise DesignFileError(
                    file="answers",
                    key=question.name,
                    found="the end of the input",
                    wanted="answer all six questions, or give --answers; nothing was written",
                )
            try:
                texts |= read_answer(question, line.rstrip("\r\n"), texts)
            except DesignFileError as error:
                if not again:
                    raise
                print(f"  found {error.found}; {error.wanted}", file=sys.stderr)
            else:
                break
    return texts


def run(arguments: argparse.Namespace) -> int:
    """Write the starting design."""
    from circuits.design_file import parse_design
    from circuits.design_text import file_name
    from circuits.design_write import check_target, write_whole
    from circuits.new_text import MUST, design_text

    # Before six questions are asked in vain.
    check_target(arguments.file, force=arguments.force)
    texts = _asked() if arguments.answers is None else _from_text(arguments.answers)
    text = design_text(texts, f"{texts['movement.kind'].capitalize()} of {_size(texts)}")
    parse_design(text, file_name(arguments.file))
    write_whole(arguments.file, text, force=arguments.force)
    measure = [line.strip(" #") for line in text.splitlines()[2:] if MUST in line]
    if arguments.json:
        written = {"file": str(arguments.file), "stated": texts, "measure": measure}
        write_out(json.dumps(written, indent=2) + "\n")
        return 0
    write_out(
        f"{file_name(arguments.file)}: written; {len(measure)} lines are marked {MUST}\n"
        f"next: coilwright design {file_name(arguments.file)}\n"
    )
    return 0


def _size(texts: dict[str, str]) -> str:
    return texts.get("movement.period") or texts["movement.effective_length"]

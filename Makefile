# `make demo` prints the sheet of the demo design, `make test` runs every check, `make pictures`
# draws the README's pictures anew.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin

.PHONY: demo test lint pictures clean

demo: $(VENV)/.installed
	$(BIN)/coilwright design examples/foyer_sculpture.toml || test $$? -eq 1

test: lint
	$(BIN)/python -m pytest -n auto

lint: $(VENV)/.installed
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

pictures: $(VENV)/.installed
	$(BIN)/python -m examples.pictures

$(VENV)/.installed: pyproject.toml constraints.txt
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --constraint constraints.txt --editable '.[spice,pdf,cluster,test]'
	touch $@

clean:
	rm -rf $(VENV) build *.egg-info

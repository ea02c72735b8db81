PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin

.PHONY: demo test lint docs clean

demo: $(VENV)/installed
	$(BIN)/harnessdsl check examples/tourer/tourer.harness --show warning
	$(BIN)/harnessdsl draw examples/tourer/tourer.harness --out out
	$(BIN)/harnessdsl locate examples/tourer/tourer.harness --out out/maps
	@echo "The sheets are in out/, the maps in out/maps/."

test: $(VENV)/installed-test
	$(BIN)/python -m pytest -n 2

lint: $(VENV)/installed-test
	$(BIN)/pip install -q -e '.[dev]'
	$(BIN)/ruff check harnessdsl tests bench
	$(BIN)/mypy

docs: $(VENV)/installed
	$(BIN)/python -m harnessdsl.rules.pages > docs/checks.md
	$(BIN)/python tests/fault_docs.py

$(VENV)/installed: pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(BIN)/pip install -q -e .
	@touch $@

# The tests also need a browser, to measure the drawings as a reader sees them, and ngspice, as the
# reference for the circuit computation. Debian's packages are fetched when they are missing.
$(VENV)/installed-test: $(VENV)/installed
	$(BIN)/pip install -q -e '.[test]'
	sh tests/install-system-packages.sh
	@touch $@

clean:
	rm -rf $(VENV) out build dist *.egg-info

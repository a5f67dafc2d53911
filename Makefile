# `make demo` and `make test` install what they need into .venv and need nothing else prepared.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
FAST := tests/read tests/fit tests/prove tests/test_one_way.py tests/test_golden.py tests/test_library_content.py

.PHONY: demo test fast lint bless bench audit clean

demo: $(VENV)/ready
	$(BIN)/lockerleaf build

test: $(VENV)/ready-dev
	bash tests/install_browser.sh
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/pytest -n 2 --dist loadscope

fast: $(VENV)/ready-dev
	$(BIN)/pytest -m "not slow" $(FAST)

bless: $(VENV)/ready-dev
	$(BIN)/pytest --bless tests/read/test_bad.py tests/test_golden.py tests/figures/test_checked.py tests/compose/test_guide_languages.py

bench: $(VENV)/ready-dev
	$(BIN)/python tests/bench/one_unit.py

audit: $(VENV)/ready-dev
	$(BIN)/python -m pip install --quiet --disable-pip-version-check 'pip-audit>=2.7'
	$(BIN)/pip-audit --strict --require-hashes --disable-pip -r requirements.txt

lint: $(VENV)/ready-dev
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .
	$(BIN)/mypy

$(VENV)/ready: pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -e .
	touch $@

$(VENV)/ready-dev: pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -e '.[dev]'
	touch $@ $(VENV)/ready

clean:
	rm -rf $(VENV) public print .cache build *.egg-info

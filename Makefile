# `make demo` and `make test` set themselves up: a virtual environment in .venv, and on Debian the
# system packages they need (as root; otherwise the command to run is printed).

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
# What the recorder uses of the system: sound input and output, and a voice for the read-back.
PACKAGES_RUN := python3-venv libportaudio2 espeak-ng
# What the tests use besides: other synthetic voices, a virtual sound card.
PACKAGES_TEST := $(PACKAGES_RUN) flite festival pulseaudio pulseaudio-utils libasound2-plugins
DEMO_OUTPUT := demo_output
# Two workers share the tests; tests/conftest.py says which stay together.
WORKERS := -n 2
# The tests start hundreds of processes: compiled modules are kept, or each compiles the package anew.
unexport PYTHONDONTWRITEBYTECODE

.PHONY: help demo test check format bench docs packages-run packages-test clean

help:
	@echo "make demo    set up, then recognise and weigh the packaged session and print its sheet"
	@echo "make test    set up, then run all tests"
	@echo "make check   formatting, lint, types and all tests"
	@echo "make bench   the benchmarks, printed as tables"
	@echo "make docs    rewrite the generated parts of README.md and DEVELOPERS.md"
	@echo "make clean   remove everything made here"

demo: packages-run $(VENV)/.installed
	$(BIN)/handsfree demo --out $(DEMO_OUTPUT)

test: packages-test $(VENV)/.installed-dev
	$(BIN)/python -m pytest $(WORKERS)

check: packages-test $(VENV)/.installed-dev
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/python -m pytest --cov

format: $(VENV)/.installed-dev
	$(BIN)/ruff format .
	$(BIN)/ruff check --fix .

bench: packages-test $(VENV)/.installed-dev
	$(BIN)/python -m tests.benchmarks

docs: $(VENV)/.installed-dev
	$(BIN)/python -m tests.docs --write

$(VENV)/.installed: pyproject.toml | packages-run
	$(PYTHON) -m venv $(VENV)
	$(BIN)/pip install --quiet --disable-pip-version-check -e .
	touch $@

$(VENV)/.installed-dev: pyproject.toml | packages-test
	$(PYTHON) -m venv $(VENV)
	$(BIN)/pip install --quiet --disable-pip-version-check -e '.[dev,vosk-test,second-ear-test]'
	touch $@ $(VENV)/.installed

packages-run:
	@sh .ci/packages $(PACKAGES_RUN)

packages-test:
	@sh .ci/packages $(PACKAGES_TEST)

clean:
	rm -rf $(VENV) $(DEMO_OUTPUT) build dist .pytest_cache .mypy_cache .ruff_cache .hypothesis .coverage htmlcov

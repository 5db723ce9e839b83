# Two commands do all the set-up: `make demo` and `make test`. `make help` lists the rest.

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
SOURCES := $(wildcard src/sparkwright/*.py src/sparkwright/*/*.py)
export UV_PYTHON_DOWNLOADS := never
export UV_SYSTEM_CERTS := true
export PYTHONDONTWRITEBYTECODE :=

.DEFAULT_GOAL := help
# Physics with its examples, and one file of each face.
QUICK := $(addprefix src/sparkwright/, air cycle ignition numeric) \
    $(addprefix tests/, air cycle drawing ignition job numeric test_units.py plan/test_planner.py cli/test_cli.py \
    sheets/test_card.py shop/test_shop_job_states.py web/test_web_pages.py)

.PHONY: help demo quick test proof oldest lint types contract check bench pictures lock clean setup calibrate

help: ## list what can be made
	@grep -hE '^[a-z]+:.*##' $(MAKEFILE_LIST) | sed -E 's/:[^#]*## /\t/' | expand -t 12

# A helper environment holds the installer, so that nothing is asked of the machine but python3.
.tools/bin/uv:
	@echo "Making the helper environment (once)"
	@$(PYTHON) -m venv .tools
	@.tools/bin/pip install --quiet --disable-pip-version-check uv

$(VENV)/installed: requirements.lock pyproject.toml | .tools/bin/uv
	@echo "Installing the locked packages into $(VENV)"
	@test -x $(BIN)/python || .tools/bin/uv venv --quiet --python $(PYTHON) $(VENV)
	@.tools/bin/uv pip install --quiet --python $(BIN)/python --compile-bytecode --require-hashes -r requirements.lock
	@.tools/bin/uv pip install --quiet --python $(BIN)/python --no-deps --editable .
	@touch $@

# The engine kernel and the loops over drives are compiled here, once, so that no command stalls on it later.
$(VENV)/compiled: $(VENV)/installed $(SOURCES)
	@$(BIN)/python -m compileall -q src
	@$(BIN)/python -m sparkwright.cycle.compile
	@$(BIN)/python -m sparkwright.drive.compile
	@touch $@

setup: $(VENV)/compiled ## install and compile, nothing else

demo: setup ## the whole main job on the demo engine; says where its results are
	@$(BIN)/python scripts/demo.py

lint: $(VENV)/installed
	@$(BIN)/ruff check .
	@$(BIN)/ruff format --check .

types: $(VENV)/installed
	@$(BIN)/mypy

contract: $(VENV)/installed
	@$(BIN)/lint-imports --no-cache

quick: setup lint ## in a minute: lint, physics and one file of each face
	@$(BIN)/pytest -n auto --dist worksteal -m "not slow and not proof" $(QUICK)

test: setup lint types contract ## everything: lint, types, import contract, tests
	@$(BIN)/pytest -n auto --dist worksteal

proof: setup oldest ## what takes minutes: many draws, many kills, the wheel, the oldest packages
	@$(BIN)/pytest -n auto --dist worksteal -m proof

# Who installs without the lock may have the oldest packages that pyproject.toml allows. What those warn of,
# newer ones have changed; so their warnings are no errors here.
oldest: .tools/bin/uv ## the security tests again, with the oldest packages allowed, in .venv-oldest
	@.tools/bin/uv venv --quiet --clear --python $(PYTHON) .venv-oldest
	@.tools/bin/uv pip install --quiet --python .venv-oldest/bin/python --resolution lowest-direct \
	    --editable ".[drives,postgresql]"
	@.tools/bin/uv pip install --quiet --python .venv-oldest/bin/python httpx pytest
	@.venv-oldest/bin/python -m pytest -W ignore::DeprecationWarning -m "security and not proof" \
	    $$(grep -rl --include="*.py" "mark\.security" tests)

bench: setup ## measure speed and memory, as ratios in one run
	@$(BIN)/python benchmarks/run.py

pictures: demo ## draw workbench and sheets into docs/pictures; wants Debian's chromium, pngquant and poppler-utils
	@$(BIN)/python scripts/demo_pictures.py
	@PYTHONPATH=benchmarks $(BIN)/python scripts/workbench_pictures.py

calibrate: setup ## fit the program's eleven constants again and print the misfit of each target
	@$(BIN)/python scripts/calibrate.py

lock: .tools/bin/uv ## resolve the dependencies again
	@.tools/bin/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes \
	    --no-emit-index-url --group dev pyproject.toml --extra cluster --extra drives --extra frames --extra mdf --extra postgresql -o requirements.lock

clean: ## remove what make made
	rm -rf $(VENV) .venv-oldest .tools demo-out .pytest_cache .mypy_cache .ruff_cache

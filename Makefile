# make run    everything at http://127.0.0.1:8000, until Ctrl-C
# make person NAME=ana   a sign-in with an empty log, where make run has prepared the database
# make test   the suite that needs no server
# make audit  known vulnerabilities of the libraries that are installed with the log
# make test-postgres   those that touch the database, on PostgreSQL and Redis
# make bench  speed as ratios, and accuracy of alignment and detectors on invented truth
# make evaluate   how far corrections can be believed, on simulated athletes
#
# make faults     kill, fill and lose what an installation has, two hundred times
#
#   PORT=8001                      listen on another port
#   ADDRESS=0.0.0.0:8000           listen on more than this machine (set TRAINLOG_BASE_URL too)
#   DATA=/srv/trainlog             keep the log in another folder than var/
#   ARGS="--without-demo"          further options of `manage.py serve`, or of pytest for `make test`
#
# Further settings are environment variables; README.md lists them.

SHELL := /bin/sh
PORT ?= 8000
ADDRESS ?= 127.0.0.1:$(PORT)
DATA ?= $(or $(TRAINLOG_DATA_FOLDER),var)
ARGS ?=
VENV := .venv
# Tests that touch the database; the pure core needs none.
ON_DATABASES := tests/accuracy/services tests/accuracy/report tests/accuracy/management $(wildcard tests/accuracy/*.py) \
	tests/api tests/fixtures tests/keeping tests/management tests/migrations tests/services tests/web $(wildcard tests/test_*.py)
PYTHON := $(VENV)/bin/python
INSTALL := $(PYTHON) -m pip install --quiet --disable-pip-version-check --require-hashes

# The matrices are small: threads of the linear algebra would only wait for each other.
export OPENBLAS_NUM_THREADS ?= 1

.PHONY: run person test test-postgres lint audit bench evaluate faults lock clean

run: $(VENV)/installed
	@export TRAINLOG_DATA_FOLDER="$(DATA)" && \
	$(PYTHON) -m trainlog.secret_key "$(DATA)" && \
	exec $(PYTHON) manage.py serve --address "$(ADDRESS)" $(ARGS)

person: $(VENV)/installed
	@export TRAINLOG_DATA_FOLDER="$(DATA)" && $(PYTHON) manage.py add_person "$(NAME)"

test: $(VENV)/installed-dev
	$(PYTHON) -m pytest -n 2 --dist worksteal $(ARGS)

# The same tests on a PostgreSQL and a Redis that are there: TEST_DATABASE and TEST_BROKER say where.
test-postgres: $(VENV)/installed-dev
	TEST_DATABASE="$${TEST_DATABASE:-postgres://postgres@127.0.0.1:5432/postgres}" \
	TEST_BROKER="$${TEST_BROKER:-redis://127.0.0.1:6379/14}" \
	$(PYTHON) -m pytest -n 2 --dist worksteal $(ON_DATABASES) $(ARGS)

lint: $(VENV)/installed-dev
	$(PYTHON) -m ruff check .
	$(PYTHON) -m ruff format --check .
	$(PYTHON) -m mypy trainlog accuracy fixtures tests
	$(VENV)/bin/lint-imports

# Fails on a known vulnerability; says so and goes on where no advisory service can be reached.
audit: $(VENV)/installed-dev
	$(PYTHON) .ci/audit.py

# Ratios and accuracy on this machine; minutes, not seconds.
bench: $(VENV)/installed-oracle
	$(PYTHON) -m benchmarks.readers
	$(PYTHON) -m benchmarks.hostile_files
	$(PYTHON) -m benchmarks.agreement
	$(PYTHON) -m benchmarks.alignment
	$(PYTHON) -m benchmarks.detectors
	$(PYTHON) -m benchmarks.learning
	$(PYTHON) -m benchmarks.long_log
	$(PYTHON) -m benchmarks.trend
	$(PYTHON) -m benchmarks.workout_page
	$(PYTHON) -m benchmarks.page_budget
	$(PYTHON) -m benchmarks.many_athletes
	$(PYTHON) -m benchmarks.bulk_import

# Most of an hour on two cores; docs/evaluation.md holds the last figures.
EVALUATE := $(PYTHON) manage.py evaluate_profiles
evaluate: $(VENV)/installed-dev
	@export TRAINLOG_DATA_FOLDER="$(DATA)" && $(PYTHON) -m trainlog.secret_key "$(DATA)" && \
	$(EVALUATE) --simulated 150 --pairs 2,4,8,16,100 $(ARGS) && \
	$(EVALUATE) --simulated 50 --troubles && \
	$(PYTHON) -m benchmarks.likely_rates && \
	$(PYTHON) -m benchmarks.calibration 1000

# Most of an hour: what is killed, filled or lost, and whether the log is the same afterwards.
ROUNDS ?= 200
faults: $(VENV)/installed-dev
	$(PYTHON) -m tests.faults.rounds $(ROUNDS)

# The versions that are installed, with the hashes of their files.
lock: | $(PYTHON)
	command -v uv >/dev/null || $(PYTHON) -m pip install --quiet --disable-pip-version-check uv
	PATH="$$PATH:$(VENV)/bin" && uv pip compile pyproject.toml --universal --generate-hashes --no-header --no-annotate \
		--no-emit-index-url --quiet --output-file requirements.lock
	PATH="$$PATH:$(VENV)/bin" && uv pip compile pyproject.toml --group dev --universal --generate-hashes --no-header --no-annotate \
		--no-emit-index-url --quiet --constraint requirements.lock --output-file requirements-dev.lock
	PATH="$$PATH:$(VENV)/bin" && uv pip compile pyproject.toml --group oracle --universal --generate-hashes --no-header --no-annotate \
		--no-emit-index-url --quiet --constraint requirements-dev.lock --output-file requirements-oracle.lock

clean:
	rm -rf $(VENV) .mypy_cache .ruff_cache .pytest_cache .import_linter_cache .hypothesis
	find . -name __pycache__ -type d -prune -exec rm -rf {} +

$(VENV)/installed: requirements.lock | $(PYTHON)
	@echo "Installing what the log needs (a minute or two the first time)."
	@$(INSTALL) -r requirements.lock
	@touch $@

$(VENV)/installed-dev: requirements-dev.lock | $(PYTHON)
	@echo "Installing what the log and its tests need (a minute or two the first time)."
	@$(INSTALL) -r requirements-dev.lock
	@touch $@ $(VENV)/installed

$(VENV)/installed-oracle: requirements-oracle.lock $(VENV)/installed-dev
	@echo "Installing the sampler that the learning is compared with."
	@$(INSTALL) -r requirements-oracle.lock
	@touch $@

$(PYTHON):
	@for python in python3.13 python3.12 python3.11 python3 python; do \
		if $$python -c 'import sys; sys.exit(not (3, 11) <= sys.version_info[:2] <= (3, 13))' 2>/dev/null; then \
			$$python -m venv $(VENV) && exit 0; \
			rm -rf $(VENV); \
			echo "$$python cannot make a virtual environment; on Debian and Ubuntu, install python3-venv."; \
			exit 1; \
		fi; \
	done; \
	echo "Python 3.11, 3.12 or 3.13 is needed, and none was found."; \
	exit 1

# Each goal makes this folder ready first (.ci/setup): the first time that takes a few minutes and the network,
# afterwards a moment and neither.
SHELL := /bin/sh
.DEFAULT_GOAL := help
PORT ?= 8420
SPEED ?=
SUITE ?= bookworm
TROUBLE ?=
PYTEST ?=
PROVE ?=
# node of our own, where the machine has none
export PATH := $(PATH):$(CURDIR)/.tools/bin

.PHONY: help run test lint bench prove appliance fuzz format locks supply clean

help: ## what can be typed here
	@awk -F ':.*## ' '/^[a-z]+:.*## / { printf "  make %-8s %s\n", $$1, $$2 }' Makefile

run: ## Puffin's firing on http://localhost:8420 (PORT=, SPEED=, TROUBLE= change it)
	@.ci/setup run "make run"
	.venv/bin/spyhole rehearse --port $(PORT) --data var/rehearsal $(if $(SPEED),--speed $(SPEED)) $(if $(TROUBLE),--trouble $(TROUBLE))

test: ## every test (PYTEST="tests/core -k cone" chooses)
	@.ci/setup test "make test"
	.venv/bin/pytest $(PYTEST)

lint: ## style, types, the import contract and the page's script
	@.ci/setup test "make lint"
	.venv/bin/ruff check
	.venv/bin/ruff format --check
	.venv/bin/mypy
	.venv/bin/lint-imports --no-logo
	npm --prefix web run --silent check

bench: ## memory, CPU, disk and speed, measured here
	@.ci/setup test "make bench"
	.venv/bin/python tests/bench/run.py

prove: ## the watch on some four hundred and fifty kilns it has never seen, at 30 s and at 5 s (PROVE="--healthy 9 --each 1"; a run goes on where it stopped)
	@.ci/setup test "make prove"
	.venv/bin/python tests/proving/run.py $(PROVE)

appliance: ## install, upgrade and break it on a fresh Debian that boots (SUITE=trixie, PARTS="install upgrade steady faults", KILLS=200; root)
	@.ci/setup appliance "make appliance"
	tests/appliance/prove $(SUITE)

fuzz: ## ask the interface thousands of made-up things (EACH= of each address; DATA= a rehearsal's folder to spoil; some 20 min)
	@.ci/setup test "make fuzz"
	.venv/bin/python tests/web/fuzz.py $(if $(EACH),--each $(EACH)) $(if $(DATA),--data $(DATA))

format: ## put the code into the house's format
	@.ci/setup test "make format"
	.venv/bin/ruff check --fix
	.venv/bin/ruff format

locks: ## write the locks from what pyproject.toml asks for (UPGRADE=1 takes newer versions; network)
	@.ci/setup run "make locks"
	.ci/lock $(if $(UPGRADE),--upgrade)

supply: ## licences and sizes of what spyhole is built on, wheels for a Pi, known holes (network)
	@.ci/setup test "make supply"
	.ci/supply

clean: ## remove what the goals above made, but not what a rehearsal wrote
	rm -rf .venv .tools dist web/node_modules web/spyhole_web/static/uplot .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache .schemathesis

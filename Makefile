# Every target makes its own set-up (a Python environment in .venv, system packages where they are missing and we may
# install them). Assumed: git, make and Python 3.11 or later with venv.
PY := .venv/bin/python
SCREEN := xvfb-run -a -s "-screen 0 1400x900x24 -noreset"

.PHONY: run test bench pictures lint clean

run: ## open the demonstration in a window; without a display draw it to out/ and print the docking report
	@.ci/setup run
	@$(PY) -m viewer demo

test: ## every check and every test, the real window on a virtual screen included
	@.ci/setup test
	@$(MAKE) --no-print-directory lint
	$(SCREEN) $(PY) -m pytest -n 2 --dist loadfile --ignore tests/window
	$(SCREEN) $(PY) -m pytest tests/window

bench: ## speed against general libraries, both sides in one run; exits 1 on a miss
	@.ci/setup bench
	$(SCREEN) $(PY) -m tests.bench

pictures: ## the contact sheet of every view at three depths of dissection, in out/pictures
	@.ci/setup pictures
	$(PY) -m viewer picture --sheet out/pictures

lint: ## form, types and the import arrow
	@.ci/setup lint
	$(PY) -m ruff check .
	$(PY) -m ruff format --check .
	$(PY) -m mypy
	.venv/bin/lint-imports

clean: ## all that was made, the environment included
	rm -rf .venv out dist build .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache
	find . -name __pycache__ -type d -prune -exec rm -rf {} +

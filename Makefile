.PHONY: help demo demo-data test test-sqlite test-postgres lint format words bench faults load access audit upgrade clean

help: ## what can be made
	@awk -F ':.*## ' '/^[a-z-]+:.*## / { printf "%-14s %s\n", $$1, $$2 }' $(MAKEFILE_LIST)

demo: ## the invented practice, one printed proposal, and the site on localhost (PORT=8000)
	@.ci/demo serve

demo-data: ## the same without serving
	@.ci/demo data

test: ## the whole suite, on SQLite and on PostgreSQL
	@.ci/test both

test-sqlite: ## the suite on SQLite alone
	@.ci/test sqlite

test-postgres: ## the suite on PostgreSQL alone
	@.ci/test postgres

lint: ## style, types, directions of import, migrations, deployment checks
	@.ci/lint

format: ## rewrite the code in the house style
	@.ci/venv
	@.venv/bin/ruff check --fix-only --quiet .
	@.venv/bin/ruff format .

words: ## what is marked for translation into the Spanish catalogue, and what lacks its Spanish
	@.ci/venv
	@.venv/bin/python -m tests.tools.catalogue

bench: ## medians, each as a ratio to a floor measured in the same run
	@.ci/bench

faults: ## site and database killed in the middle of each act; an hour and more, for the night
	@.ci/faults

load: ## 10,000 plans, 100,000 visits, 50 people at once, a replica, five writers: some twelve minutes
	@.ci/load

access: ## every page by axe at 320, 390 and 1280 px, a quote by keyboard, larger text, forced colors, print
	@.ci/access

audit: ## known weaknesses of the pinned libraries, from PyPI's advisories
	@.ci/audit

upgrade: ## databases that earlier versions filled, brought forward, on SQLite and on PostgreSQL
	@.ci/upgrade

clean: ## remove environment, demo, printed files and caches; var/coverstead.sqlite3 stays
	@rm -rf .venv var/demo* var/setup.log out static-collected test-results .pytest_cache .mypy_cache .ruff_cache .hypothesis .import_linter_cache
	@find . -name __pycache__ -type d -prune -exec rm -rf {} +

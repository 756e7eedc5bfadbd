# `make play` and `make test` need nothing else done first: they set the machine up themselves.
SONG ?= songs/lantern-on-the-landing.toml
# First, as rustup would have it: a distribution's own Rust may be too old.
export PATH := $(or $(CARGO_HOME),$(HOME)/.cargo)/bin:$(PATH)

# Where cargo installs; a manual page beside the bin folder is found by whoever has that on the PATH.
INTO := $(or $(CARGO_INSTALL_ROOT),$(CARGO_HOME),$(HOME)/.cargo)

.PHONY: help play test lint bench musicianship craft web install dist fuzz fuzz-figures supply setup

help:
	@echo "make play [SONG=songs/FILE.toml] [ARGS=...]   build, and play a song"
	@echo "make test                                     run all tests"
	@echo "make lint                                     formatting, lints, documentation"
	@echo "make bench                                    speed: rendering, export, timing"
	@echo "make musicianship                             how well the band plays: a table of measures"
	@echo "make craft                                    the banjo's backup in every song, key, band and style: minutes"
	@echo "make web                                      the band for a browser, web/band.wasm.lzma, built anew: minutes"
	@echo "make install                                  put openchair on your PATH"
	@echo "make dist [KIND=deb]                          the packages that can be made here, into target/dist"
	@echo "make fuzz [SECONDS=20] [TARGET=song]          random files at everything that reads them, each so long"
	@echo "make fuzz-figures [SECONDS=60] [TARGET=song]  how far those get: a second, edges, the share of the lines reached"
	@echo "make supply                                   licences, sources and versions of what is built in"

play: setup
	cargo build --release
	@cargo run --release --quiet -- play $(SONG) $(ARGS)

# Many more at once than there are cores: the live ones wait most of their time, for what is to come or for their turn.
test: setup
	RUST_TEST_THREADS=$$(cores=$$(getconf _NPROCESSORS_ONLN); echo $$((cores > 12 ? cores : 12))) cargo test

lint: setup
	cargo fmt --check
	cargo clippy --all-targets -- -D warnings
	cargo clippy --no-default-features --lib -- -D warnings
	RUSTDOCFLAGS="-D warnings" cargo doc --no-deps --quiet

bench: setup
	cargo bench

# In the profile of the tests, which have built most of it.
musicianship: setup
	cargo bench --profile dev --bench musicianship

craft: setup
	cargo test --release --test pure a_teacher_would_say_yes_to_all_of_it -- --ignored --nocapture

web:
	.ci/web

install: setup
	cargo install --locked --path .
	@mkdir -p "$(INTO)/share/man/man1"
	@"$(INTO)/bin/openchair" manual > "$(INTO)/share/man/man1/openchair.1"
	@for command in $$("$(INTO)/bin/openchair" --help | sed -n '/^Commands:/,/^$$/ { /^  [a-z]/ s/^  \([a-z]*\) .*/\1/p }'); do \
		[ "$$command" = help ] || "$(INTO)/bin/openchair" manual "$$command" > "$(INTO)/share/man/man1/openchair-$$command.1"; done
	@mkdir -p "$(INTO)/share/bash-completion/completions" "$(INTO)/share/zsh/site-functions" \
		"$(INTO)/share/fish/vendor_completions.d"
	@"$(INTO)/bin/openchair" completions bash > "$(INTO)/share/bash-completion/completions/openchair"
	@"$(INTO)/bin/openchair" completions zsh > "$(INTO)/share/zsh/site-functions/_openchair"
	@"$(INTO)/bin/openchair" completions fish > "$(INTO)/share/fish/vendor_completions.d/openchair.fish"
	@echo "man openchair: $(INTO)/share/man/man1/openchair.1"

dist:
	.ci/packages/dist $(KIND)

fuzz: setup
	OPENCHAIR_FUZZ_SECONDS=$(or $(SECONDS),20) .ci/fuzz $(TARGET)

# Begun anew where it is said for how long, and else of what earlier hours have left.
fuzz-figures: setup
	OPENCHAIR_FUZZ_SECONDS=$(SECONDS) .ci/fuzz-figures $(TARGET)

supply: setup
	.ci/supply

setup:
	@sh .ci/setup

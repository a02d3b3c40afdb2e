#!/usr/bin/env bash
# Everything that must hold: format, lints, tests. `./test.sh --long` adds the corpus and damage runs.
# Needs the Rust toolchain (1.92 or newer) with rustfmt and clippy, C and C++ compilers, GEOS for the benches, and for the page Chromium
# with its driver and npm.
set -euo pipefail
cd "$(dirname "$0")"

say() { printf '\n== %s\n' "$*"; }

# Brings what is missing, as root or through sudo, and says so; elsewhere names it and fails.
need() { # command, package
  command -v "$1" >/dev/null 2>&1 && return
  bring "$1" "$2"
  command -v "$1" >/dev/null 2>&1 || { echo "test.sh could not install $2" >&2; exit 1; }
}
need_file() { # file, package
  [ -e "$1" ] && return
  bring "$1" "$2"
  [ -e "$1" ] || { echo "test.sh could not install $2" >&2; exit 1; }
}
bring() { # what is missing, package
  local as=()
  if [ "$(id -u)" -ne 0 ]; then
    if command -v sudo >/dev/null 2>&1 && sudo -n true 2>/dev/null; then as=(sudo -n); else
      echo "test.sh needs \`$1\` (package $2): install it and run again" >&2
      exit 1
    fi
  fi
  if ! command -v apt-get >/dev/null 2>&1; then
    echo "test.sh needs \`$1\` (package $2): install it and run again" >&2
    exit 1
  fi
  echo "installing $2, which brings \`$1\`"
  "${as[@]}" apt-get install -y "$2" >/dev/null 2>&1 || { "${as[@]}" apt-get update >/dev/null && "${as[@]}" apt-get install -y "$2" >/dev/null; }
}

need cargo cargo
need cc gcc
cargo fmt --version >/dev/null 2>&1 || rustup component add rustfmt
cargo clippy --version >/dev/null 2>&1 || rustup component add clippy

say "format"
cargo fmt --all --check
say "lints"
cargo clippy --workspace --all-targets --locked --quiet -- -D warnings
say "benches and fuzz targets compile"
need c++ g++
need_file /usr/include/geos_c.h libgeos-dev
cargo check --manifest-path bench/Cargo.toml --all-targets --locked --quiet
cargo check --manifest-path fuzz/Cargo.toml --all-targets --locked --quiet
say "tests"
cargo test --workspace --locked --quiet
say "the page's scripts"
need node nodejs
need npm npm
echo "bringing what checks the page, in tests/web: $(sed -n 's/^    "\([a-z-]*\)": "\([0-9.]*\)",\{0,1\}$/\1 \2/p' tests/web/package.json | paste -sd ' ' -)"
(cd tests/web && npm ci --silent && npm run --silent types)
say "the page in a browser"
need chromium chromium
need chromedriver chromium-driver
cargo test --locked --quiet --test browser --test browser_new --test browser_machine --test browser_seen -- --ignored --skip how_long --test-threads 1
if [ "${1:-}" = "--long" ]; then
  say "offsets of real shapes"
  corpora="$(mktemp -d)"
  trap 'rm -rf "$corpora"' EXIT
  need npm npm
  (cd "$corpora" && npm pack --silent @mapbox/maki@8.2.0 >/dev/null && tar xzf ./*.tgz)
  fonts=/usr/share/fonts
  need_file "$fonts/opentype/league-spartan/LeagueSpartan-Black.otf" fonts-league-spartan
  need_file "$fonts/opentype/bebas-neue/BebasNeue-Regular.otf" fonts-bebas-neue
  need_file "$fonts/truetype/vollkorn/Vollkorn-Black.ttf" fonts-vollkorn
  need_file "$fonts/truetype/leckerli-one/LeckerliOne-Regular.ttf" fonts-leckerli-one
  FONTS="$fonts/opentype/league-spartan/LeagueSpartan-Black.otf:$fonts/opentype/bebas-neue/BebasNeue-Regular.otf"
  FONTS="$FONTS:$fonts/truetype/vollkorn/Vollkorn-Black.ttf:$fonts/truetype/leckerli-one/LeckerliOne-Regular.ttf"
  CORPORA=hi,bs,maki,fonts MAKI="$corpora/package/icons" FONTS="$FONTS" \
    cargo test --manifest-path bench/Cargo.toml --release --locked --quiet --test corpora --test plans -- --ignored --nocapture
  say "long runs"
  cargo test --release --locked --quiet --test long -- --ignored --nocapture
  cargo test --release --locked --quiet --test engagement -- --ignored --nocapture
  export DAMAGE_SEED="${DAMAGE_SEED:-$(date +%s)}"
  cargo test --release --locked --quiet --test damage -- --ignored --nocapture
  cargo test --release --locked --quiet --test campaign -- --ignored --nocapture
  cargo test --release --locked --quiet -p proof -p read -p plan -- --ignored --nocapture
fi
say "all passed"

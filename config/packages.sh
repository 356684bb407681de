#!/usr/bin/env bash
# Installs the Debian packages that are missing: packages.sh run|test
# Without root (or sudo that asks nothing) it names them, says what is lost without them, and goes on.
set -euo pipefail

missing=()
losses=()

need() { # package, what is lost without it, how to see that it is there
    local package=$1 loss=$2
    shift 2
    if ! "$@" >/dev/null 2>&1; then
        missing+=("$package")
        losses+=("  $package: $loss")
    fi
}
has_library() { PATH=$PATH:/sbin:/usr/sbin ldconfig -p | grep "$1"; } # with -q it would end before ldconfig does, a failure
has_font() { compgen -G '/usr/share/fonts/*/*/*.[to]tf' || fc-list | grep .; }
has_postgresql() { compgen -G '/usr/lib/postgresql/*/bin/initdb' || command -v initdb; }
has_browser() { command -v chromium; }
has_venv() { "${PYTHON:-python3}" -c 'import ensurepip, venv'; }

need python3-venv "no virtual environment can be made" has_venv
need graphviz "trees are laid out by the slower layout engine that comes with the Python packages" command -v dot
need libpango-1.0-0 "no PDF reports" has_library libpango-1.0.so
need libpangoft2-1.0-0 "no PDF reports" has_library libpangoft2-1.0.so
need libharfbuzz0b "no PDF reports" has_library libharfbuzz.so
need fonts-dejavu-core "no letters in PDF reports" has_font
if [[ ${1:-run} == test ]]; then
    need chromium "the tests in a real browser are skipped" has_browser
    need postgresql "the tests on PostgreSQL are skipped" has_postgresql
    need redis-server "the tests on Redis are skipped" command -v redis-server
fi

((${#missing[@]})) || exit 0

as_root=()
if ((EUID)); then as_root=(sudo -n); fi
if command -v apt-get >/dev/null && { ((EUID == 0)) || sudo -n true 2>/dev/null; }; then
    echo "Installing Debian packages: ${missing[*]}"
    apt=("${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get -qq -o DPkg::Lock::Timeout=120)
    log=$(mktemp)
    if { "${apt[@]}" update && "${apt[@]}" install -y --no-install-recommends "${missing[@]}"; } >"$log" 2>&1; then
        rm -f "$log"
        exit 0
    fi
    tail -n 15 "$log" >&2
    rm -f "$log"
    echo "That didn't work." >&2
fi
echo "Going on without these packages; install them with:  apt-get install ${missing[*]}" >&2
printf '%s\n' "${losses[@]}" >&2

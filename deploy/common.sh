# Shared by deploy/demo and deploy/test. Sourced by them, from the top folder.

say() { printf '%s\n' "$*"; }

die() {
    printf '%s\n' "$*" >&2
    exit 1
}

# Dozens of processes start; a shell that wants no compiled files beside the sources has them once, under .venv.
if [ -n "${PYTHONDONTWRITEBYTECODE:-}" ]; then
    unset PYTHONDONTWRITEBYTECODE
    PYTHONPYCACHEPREFIX=${PYTHONPYCACHEPREFIX:-$PWD/.venv/bytecode}
    export PYTHONPYCACHEPREFIX
fi

# The first Python that is new enough.
find_python() {
    for candidate in python3 python3.14 python3.13 python3.12 python3.11; do
        if command -v "$candidate" >/dev/null 2>&1 &&
            "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1; then
            command -v "$candidate"
            return 0
        fi
    done
    return 1
}

make_environment() {
    python=$(find_python) || die "Python 3.11 or newer is needed, and none was found on the PATH."
    say "Making the virtual environment .venv with $("$python" --version) ..."
    rm -rf .venv
    if command -v uv >/dev/null 2>&1; then
        uv venv --quiet --no-project --python "$python" .venv
    else
        "$python" -m venv .venv || {
            rm -rf .venv
            die "$python cannot make a virtual environment. On Debian and Ubuntu: apt install python3-venv"
        }
    fi
}

# install_lock FILE: make .venv hold exactly the versions of FILE, each checked against its hash. Nothing is done when
# that was done before, so that the second start needs no network.
install_lock() {
    lock=$1
    if ! .venv/bin/python -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1; then
        make_environment
    fi
    digest=$(.venv/bin/python -c 'import hashlib, sys
print(hashlib.sha256(open(sys.argv[1], "rb").read()).hexdigest())' "$lock")
    stamp=.venv/installed-$lock
    [ "$(cat "$stamp" 2>/dev/null)" = "$digest" ] && return 0
    say "Installing $lock ..."
    if command -v uv >/dev/null 2>&1; then
        VIRTUAL_ENV=$PWD/.venv uv pip install --quiet --require-hashes -r "$lock"
    else
        .venv/bin/python -m pip --version >/dev/null 2>&1 || .venv/bin/python -m ensurepip >/dev/null
        .venv/bin/python -m pip install -qq --disable-pip-version-check --require-hashes -r "$lock"
    fi || die "Installing $lock failed; what the installer said is above."
    printf '%s\n' "$digest" >"$stamp"
}

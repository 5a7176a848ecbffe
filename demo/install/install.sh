#!/bin/sh
# Installs handsfree for you; "install.sh uninstall" removes it. All else is in installer.py.
here=$(cd "$(dirname "$0")" && pwd)
for python in python3.13 python3.12 python3.11 python3.14 python3 python; do
    if "$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
        exec "$python" "$here/installer.py" "$@"
    fi
done
if command -v uv > /dev/null; then # it brings a Python of its own
    exec uv run --no-project --python 3.13 "$here/installer.py" "$@"
fi
echo "handsfree: Python 3.11 or later is needed; install it (Debian: sudo apt install python3), then try again" >&2
exit 2

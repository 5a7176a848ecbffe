#!/usr/bin/env bash
# Installs from a bundle on Linux as a person without privileges and without any network, and times it up to the
# first spoken answer. Run by hand as root, since only root can take the network away:
#
#   demo/bundle linux-x86_64 --python 3.11 --to STICK
#   tests/platforms/from_a_stick.sh STICK [PYTHON'S FOLDER]
set -euo pipefail
stick=$(realpath "$1")
path=${2:-/usr/bin}
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/../.." && pwd)
home=$(mktemp -d)
trap 'rm -rf "$home"' EXIT
cp "$root/demo/plan.toml" "$root/demo/recordings/02-michael.ogg" "$home"
chown -R nobody "$home"
cat > "$home/try.sh" <<'END'
set -eu
cd "$HOME"
began=$(date +%s)
echo "network interfaces that are up: $(ip -o link show up 2> /dev/null | wc -l), as $(id -un)"
sh "$STICK/install.sh"
echo "installed after $(($(date +%s) - began)) s, $(du -sm .local/share/handsfree-program | cut -f1) MB"
python=.local/share/handsfree-program/bin/python
"$python" -m handsfree.cli replay plan.toml 02-michael.ogg --journal monday.journal --say answers
echo "first spoken answers after $(($(date +%s) - began)) s:"
ls -l answers
"$python" -m handsfree.cli export monday.journal --to pdf --out monday.pdf
"$python" -m handsfree.cli journal verify monday.journal
"$python" -m handsfree.cli check || true
cat .local/share/applications/handsfree.desktop
mv monday.journal handsfree/
echo | sh "$STICK/install.sh" uninstall
ls handsfree
END
unshare --net setpriv --reuid=nobody --clear-groups env -i HOME="$home" STICK="$stick" PATH="$path:/usr/bin:/bin" \
    LANG=C.UTF-8 sh "$home/try.sh"

#!/bin/sh
# For a double click on macOS.
sh "$(dirname "$0")/install.sh" "$@"
printf 'Press Enter to close. '
read -r _

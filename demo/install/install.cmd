@echo off
rem For a double click on Windows; "install.cmd uninstall" removes it. All else is in installer.py.
for %%P in ("py -3" "python" "python3") do (
    %%~P -c "import sys; sys.exit(sys.version_info < (3, 11))" >nul 2>nul && (
        %%~P "%~dp0installer.py" %*
        goto end
    )
)
echo handsfree: Python 3.11 or later is needed; install "Python 3.13" from the Microsoft Store, then try again
:end
pause

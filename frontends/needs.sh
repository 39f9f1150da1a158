# Debian packages, by purpose. Read by demo.sh and tests/run.sh.
# shellcheck shell=sh disable=SC2034

# to build and run the program
needs_build="gcc libc6-dev make cmake pkg-config libsndfile1-dev libcsv-dev libjansson-dev libcairo2-dev libfftw3-dev
    fonts-dejavu-core flite1-dev libsamplerate0-dev libzip-dev portaudio19-dev libncurses-dev libsimavr-dev libelf-dev"

# to test it
needs_test="libcriterion-dev clang clang-format clang-tidy libclang-rt-14-dev python3 gtkwave praat ngspice
    qemu-user gcc-aarch64-linux-gnu libc6-dev-arm64-cross pocketsphinx-en-us
    libpocketsphinx-dev espeak-ng flite python3-numpy
    pulseaudio pulseaudio-utils libasound2-plugins tmux
    sigrok-cli chromium sox
    iverilog verilator gcc-avr avr-libc binutils-avr
    doxygen mandoc abigail-tools g++ dpkg-dev file bsdextrautils binutils util-linux"

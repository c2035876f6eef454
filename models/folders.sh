# Sourced by our scripts: the two folders outside the clone that everything shares.
# src/program/build.rs finds the data folder by the same rule: keep them in step.
# shellcheck shell=bash

: "${HOME:?set HOME to your home folder, then run this again}"
home=${HUSHTALLY_HOME:-${XDG_DATA_HOME:-$HOME/.local/share}/hushtally}
cache=${XDG_CACHE_HOME:-$HOME/.cache}/hushtally
# Builds go to the cache, so that a fresh clone starts warm. Your own setting wins.
export CARGO_TARGET_DIR=${CARGO_TARGET_DIR:-$cache/target}
# For a recogniser that was built with another folder, whose rpath (src/program/build.rs) leads there.
export LD_LIBRARY_PATH=$home/lib${LD_LIBRARY_PATH:+:$LD_LIBRARY_PATH}

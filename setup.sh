#!/usr/bin/env bash
# Installs what is missing, builds, and runs the demonstration or the tests.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")"

usage() {
    cat <<'TEXT'
usage: ./setup.sh demo      build the program and its Python package, and run the demonstration
       ./setup.sh test      build with every warning an error, and run all tests
       ./setup.sh docs      build the documentation site in build/site
       ./setup.sh page      build the live page, build/spotwright.html: the engine in one file for any browser
       ./setup.sh packages  only install the Debian packages that `test` needs

Missing packages are installed with apt-get (with sudo unless run as root). The build is in build/.
TEXT
}

# What the program and its Python package need, and what the tests need besides.
program_packages=(
    g++ cmake ninja-build pkg-config ccache libeigen3-dev libboost-dev libhdf5-dev hdf5-tools libtomlplusplus-dev
    libcli11-dev libfmt-dev nlohmann-json3-dev libhwy-dev librandom123-dev librsvg2-dev
    pybind11-dev python3-dev python3-numpy python3-xarray python3-h5netcdf python3-matplotlib
)
test_packages=(
    catch2 libbenchmark-dev python3-h5py python3-netcdf4 python3-pytest python3-hypothesis python3-html5lib python3-pil
    python3-nbformat python3-nbclient python3-ipykernel python3-ipywidgets python3-dask python3-distributed
    python3-setuptools python3-wheel python3-pip python3-venv mypy chromium
    poppler-utils python3-ezdxf
    clang-14 clang-tidy-14 clang-format-14 libclang-rt-14-dev
)
docs_packages=(
    mkdocs mkdocs-material doxygen libjs-katex
    python3-nbformat python3-nbclient python3-ipykernel python3-ipywidgets python3-dask python3-distributed
)

# The engine of the live page is compiled with headers alone of the libraries above. Where npm comes from elsewhere,
# Debian's is not needed.
page_packages=(
    emscripten cmake ninja-build ccache libeigen3-dev libboost-dev libtomlplusplus-dev libfmt-dev nlohmann-json3-dev
    libhwy-dev librandom123-dev chromium
)
if ! command -v npm >/dev/null; then page_packages+=(npm); fi

install_missing() {
    local missing=() package
    for package in "$@"; do
        if [[ $(dpkg-query --show --showformat='${db:Status-Status}' "$package" 2>/dev/null) != installed ]]; then
            missing+=("$package")
        fi
    done
    ((${#missing[@]})) || return 0
    if ! command -v apt-get >/dev/null; then
        echo "this system has no apt-get; please install the equivalents of: ${missing[*]}" >&2
        exit 1
    fi
    local as_root=()
    if ((EUID != 0)); then as_root=(sudo); fi
    echo "installing ${missing[*]}"
    "${as_root[@]}" apt-get update
    "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get install -y --no-install-recommends "${missing[@]}"
}

configure_program() {
    cmake --preset release -DSPOTWRIGHT_TESTS=OFF -DSPOTWRIGHT_BENCHMARKS=OFF -DSPOTWRIGHT_UNITY=ON
}

build_program() {
    configure_program
    cmake --build --preset release --target spotwright --target spotwright_package
}

# The program comes first: its answers are on the screen while the Python package is compiled.
demo() {
    local installed built shown packed
    install_missing "${program_packages[@]}"
    installed=$SECONDS
    configure_program
    cmake --build --preset release --target spotwright
    built=$SECONDS
    build/spotwright demo
    shown=$SECONDS
    printf '\nThe Python package follows.\n'
    cmake --build --preset release --target spotwright_package
    packed=$SECONDS
    first_reading_in_python
    printf '\ntime: packages %d s, compiling the program %d s, demonstration %d s, compiling the Python package %d s\n' \
        "$installed" $((built - installed)) $((shown - built)) $((packed - shown))
}

# Shows the line that imports the package, and what it prints.
first_reading_in_python() {
    local code='import spotwright as sw; print(sw.read(sw.load("scenarios/01-white-tile.toml")).verdict.reasons[0])'
    printf "\nfrom Python:\n  PYTHONPATH=build/python /usr/bin/python3 -c '%s'\n" "$code"
    PYTHONPATH=build/python /usr/bin/python3 -c "$code"
}

run_tests() {
    install_missing "${program_packages[@]}" "${test_packages[@]}" "${docs_packages[@]}" "${page_packages[@]}"
    cmake --preset release -DSPOTWRIGHT_TESTS=ON -DSPOTWRIGHT_BENCHMARKS=OFF -DSPOTWRIGHT_WERROR=ON -DSPOTWRIGHT_UNITY=ON
    # The page is compiled meanwhile: each of both ends with work for one core alone.
    build_page &
    local page=$!
    cmake --build --preset release || { wait "$page"; exit 1; }
    wait "$page"
    # One more than there are cores: a test in a browser waits for part of its time.
    ctest --preset release --parallel $(($(nproc) + 1))
}

# Tools of the page are those of its lock file; nothing of them is loaded when it runs.
build_page() {
    cmake --preset web
    cmake --build --preset web
    (
        cd bindings/web/page
        if [[ ! node_modules/.package-lock.json -nt package-lock.json ]]; then npm ci --no-audit --no-fund; fi
        npm run check
        node pack.mjs --engine ../../../build-web/engine.js --scenarios ../../../scenarios --out ../../../build/spotwright.html
    )
}

page() {
    install_missing "${page_packages[@]}"
    build_page
}

# Pages tell what the program built here prints and what its package says; an existing build is taken as it is.
docs() {
    install_missing "${program_packages[@]}" "${docs_packages[@]}"
    if [[ ! -x build/spotwright || ! -d build/python/spotwright ]]; then build_program; fi
    PYTHONPATH=build/python /usr/bin/python3 docs/site/make_site.py
}

case "${1:-}" in
    demo) demo ;;
    docs) docs ;;
    page) page ;;
    test) run_tests ;;
    packages) install_missing "${program_packages[@]}" "${test_packages[@]}" "${docs_packages[@]}" "${page_packages[@]}" ;;
    -h | --help) usage ;;
    *)
        usage >&2
        exit 2
        ;;
esac

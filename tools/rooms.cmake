# A room is a folder, a CMake target and a namespace of the same name.
#   phasewright_room(core/wiring USES core/plan core/quantity LINKS Eigen3::Eigen)
# makes the library core_wiring from the folder's sources and, where *_test.cpp files sit beside them, the test
# program core_wiring_test, which ctest runs as "core/wiring".

set(CMAKE_CXX_STANDARD 23)
set(CMAKE_CXX_STANDARD_REQUIRED ON)
set(CMAKE_CXX_EXTENSIONS OFF)
set(CMAKE_EXPORT_COMPILE_COMMANDS ON)
if(NOT CMAKE_BUILD_TYPE)
  set(CMAKE_BUILD_TYPE RelWithDebInfo)
endif()

option(PHASEWRIGHT_TESTS "Build the tests" ON)
option(PHASEWRIGHT_BENCHMARKS "Build the benchmarks" OFF)
set(PHASEWRIGHT_SANITIZE "" CACHE STRING "Sanitizers to build with: address,undefined or thread; empty for none")
set(PHASEWRIGHT_TIDY "" CACHE STRING "clang-tidy to read every source with while it is compiled; empty for none")

find_program(CCACHE_PROGRAM ccache)
if(CCACHE_PROGRAM)
  # Relative paths and no folder in the hash: a fresh clone elsewhere finds what an earlier one built.
  set(CMAKE_CXX_COMPILER_LAUNCHER
      ${CMAKE_COMMAND} -E env CCACHE_NOHASHDIR=1 CCACHE_BASEDIR=${CMAKE_SOURCE_DIR} ${CCACHE_PROGRAM})
endif()
find_program(MOLD_PROGRAM mold)
if(MOLD_PROGRAM)
  add_link_options(-fuse-ld=mold)
endif()

# Tests are built but not read (.clang-tidy says why); phasewright_test_program takes them out.
set(CMAKE_CXX_CLANG_TIDY ${PHASEWRIGHT_TIDY})
if(PHASEWRIGHT_TIDY)
  # With a configuration that it cannot read clang-tidy goes on with its own, and all is well.
  execute_process(COMMAND ${PHASEWRIGHT_TIDY} --verify-config WORKING_DIRECTORY ${CMAKE_SOURCE_DIR}
    OUTPUT_VARIABLE verdict ERROR_VARIABLE verdict COMMAND_ERROR_IS_FATAL ANY)
  if(NOT verdict MATCHES "^No config errors detected.[\n ]*$")
    message(FATAL_ERROR ".clang-tidy: ${verdict}")
  endif()
endif()

find_package(Threads REQUIRED)
if(PHASEWRIGHT_TESTS)
  enable_testing()
endif()

add_library(phasewright_flags INTERFACE)
target_include_directories(phasewright_flags INTERFACE ${CMAKE_SOURCE_DIR})
# Where it is tested, an empty optional that is read and an index out of range end the program.
target_compile_definitions(phasewright_flags INTERFACE $<$<CONFIG:Debug>:_GLIBCXX_ASSERTIONS>)
# A designated initialiser may leave the rest to the defaults that stand in the struct.
# No fused multiply-add: the same job must give the same evidence on every compiler.
target_compile_options(phasewright_flags INTERFACE
  -Wall -Wextra -Wpedantic -Wconversion -Wshadow -Wnon-virtual-dtor -Wold-style-cast -Woverloaded-virtual
  -Wno-missing-field-initializers -Wdouble-promotion -Wimplicit-fallthrough -Werror -ffp-contract=off -fno-omit-frame-pointer)
if(CMAKE_CXX_COMPILER_ID STREQUAL "GNU")
  target_compile_options(phasewright_flags INTERFACE -Wduplicated-cond -Wlogical-op)
  # GCC 12 sees uninitialised and dangling reads inside its own library headers under sanitizers and -O2.
  target_compile_options(phasewright_flags INTERFACE -Wno-maybe-uninitialized -Wno-restrict -Wno-null-dereference)
endif()
if(CMAKE_CXX_COMPILER_ID STREQUAL "Clang")
  # std::stable_sort of GCC 12's library uses a buffer that the same library calls deprecated.
  target_compile_options(phasewright_flags INTERFACE -Wno-deprecated-declarations)
endif()
if(PHASEWRIGHT_SANITIZE)
  add_compile_options(-fsanitize=${PHASEWRIGHT_SANITIZE} -fno-sanitize-recover=all)
  add_link_options(-fsanitize=${PHASEWRIGHT_SANITIZE})
endif()

function(phasewright_test_program folder)
  cmake_parse_arguments(PARSE_ARGV 1 ARG "" "" "LINKS")
  string(REPLACE "/" "_" target ${folder})
  file(GLOB tests CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/${folder}/*_test.cpp)
  if(NOT PHASEWRIGHT_TESTS OR NOT tests)
    return()
  endif()
  add_executable(${target}_test ${tests})
  set_target_properties(${target}_test PROPERTIES CXX_CLANG_TIDY "")
  target_link_libraries(${target}_test PRIVATE ${ARG_LINKS} doctest_main)
  target_compile_definitions(${target}_test PRIVATE PHASEWRIGHT_SOURCE_DIR="${CMAKE_SOURCE_DIR}")
  add_test(NAME ${folder} COMMAND ${target}_test)
  set_tests_properties(${folder} PROPERTIES TIMEOUT 600)
endfunction()

function(phasewright_room folder)
  cmake_parse_arguments(PARSE_ARGV 1 ARG "" "" "USES;LINKS;TEST_LINKS")
  string(REPLACE "/" "_" target ${folder})
  file(GLOB sources CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/${folder}/*.cpp)
  list(FILTER sources EXCLUDE REGEX "_test\\.cpp$")
  list(FILTER sources EXCLUDE REGEX "/(main|[a-z_]+_cli)\\.cpp$")
  set(uses "")
  foreach(used IN LISTS ARG_USES)
    string(REPLACE "/" "_" used_target ${used})
    list(APPEND uses ${used_target})
  endforeach()
  add_library(${target} STATIC ${sources})
  if(PHASEWRIGHT_TIDY)
    set_property(SOURCE ${sources} APPEND PROPERTY OBJECT_DEPENDS ${CMAKE_SOURCE_DIR}/.clang-tidy)
  endif()
  target_link_libraries(${target} PUBLIC phasewright_flags ${uses} ${ARG_LINKS})
  phasewright_test_program(${folder} LINKS ${target} ${ARG_TEST_LINKS})
endfunction()

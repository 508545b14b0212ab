// Keeps the one way that data walks through the house: plan, wiring, readings, diagnosis, correction,
// evidence, report. Reads every source below a root and names each include, folder and header that breaks a
// rule of CONTRIBUTING.md. The tables of who may use whom stand at the top of include_flow.cpp.
#pragma once
#include <filesystem>
#include <string>
#include <vector>

namespace phasewright::tools {

struct SourceFile {
    std::string path;  // from the root, with forward slashes: "core/wiring/wiring.hpp"
    std::string text;
};

struct Breach {
    std::string file;
    int line = 0;      // 0 when the whole file is meant
    std::string what;  // one sentence: what is wrong and what is allowed
};

// "core/plan/site.hpp:7: core/plan may not use core/wiring; it may use core/quantity"
[[nodiscard]] std::string to_line(Breach const& breach);

[[nodiscard]] std::vector<Breach> breaches_among(std::vector<SourceFile> const& sources);

// Every .hpp and .cpp of the rooms below `root`, in the order of their names.
[[nodiscard]] std::vector<SourceFile> sources_below(std::filesystem::path const& root);

}  // namespace phasewright::tools

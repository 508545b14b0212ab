// include_flow ROOT: exits 0 when every source below ROOT keeps the flow of the house, 1 with a line for each
// that does not.
#include <exception>
#include <iostream>

#include "tools/include_flow.hpp"

int main(int argc, char** argv) {
    if (argc != 2) {
        std::cerr << "usage: include_flow ROOT\n";
        return 2;
    }
    try {
        auto const sources = phasewright::tools::sources_below(argv[1]);
        if (sources.empty()) {
            std::cerr << "include_flow: no sources below " << argv[1] << '\n';
            return 2;
        }
        auto const breaches = phasewright::tools::breaches_among(sources);
        for (auto const& breach : breaches) {
            std::cerr << phasewright::tools::to_line(breach) << '\n';
        }
        if (!breaches.empty()) {
            std::cerr << "include_flow: " << breaches.size() << " against the rules of CONTRIBUTING.md\n";
            return 1;
        }
        std::cout << "include_flow: " << sources.size() << " sources keep the flow\n";
        return 0;
    } catch (std::exception const& fault) {
        std::cerr << "include_flow: " << fault.what() << '\n';
        return 2;
    }
}

// For tests: other programs. One that is asked once prints its answer; one that serves prints a first line when it is
// ready, and ends when its standard input closes.
#pragma once
#include <array>
#include <csignal>
#include <cstdio>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

#include <sys/wait.h>
#include <unistd.h>

namespace phasewright::journeys {

class Process {
public:
    explicit Process(std::vector<std::string> words) {
        std::array<int, 2> to_child{};
        std::array<int, 2> from_child{};
        if (pipe(to_child.data()) != 0 || pipe(from_child.data()) != 0) throw std::runtime_error("no pipe");
        child_ = fork();
        if (child_ == 0) {
            dup2(to_child[0], STDIN_FILENO);
            dup2(from_child[1], STDOUT_FILENO);
            for (int const end : {to_child[0], to_child[1], from_child[0], from_child[1]}) close(end);
            std::vector<char*> arguments;
            for (auto& word : words) arguments.push_back(word.data());
            arguments.push_back(nullptr);
            execvp(arguments.front(), arguments.data());
            _exit(127);
        }
        close(to_child[0]);
        close(from_child[1]);
        stdin_ = to_child[1];
        stdout_ = from_child[0];
    }
    Process(Process const&) = delete;
    Process& operator=(Process const&) = delete;
    ~Process() {
        if (stdin_ >= 0) close(stdin_);
        kill(child_, SIGTERM);
        waitpid(child_, nullptr, 0);
        close(stdout_);
    }

    // Empty when the program ended without another line.
    [[nodiscard]] std::string line() const {
        std::string line;
        for (char c = 0; read(stdout_, &c, 1) == 1 && c != '\n';) line += c;
        return line;
    }
    // Everything until its end.
    [[nodiscard]] std::string rest() {
        close(stdin_);
        stdin_ = -1;
        std::string all;
        std::array<char, 4096> part{};
        for (long count = 0; (count = read(stdout_, part.data(), part.size())) > 0;)
            all.append(part.data(), static_cast<std::size_t>(count));
        return all;
    }

private:
    pid_t child_ = 0;
    int stdin_ = -1;
    int stdout_ = -1;
};

inline std::vector<std::string> lines_of(std::string const& text) {
    std::vector<std::string> lines;
    std::istringstream in{text};
    for (std::string line; std::getline(in, line);) lines.push_back(line);
    return lines;
}

}  // namespace phasewright::journeys

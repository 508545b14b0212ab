#include "app/commands/twin_child.hpp"

#include <algorithm>
#include <array>
#include <cerrno>
#include <chrono>
#include <csignal>
#include <fstream>
#include <sstream>
#include <system_error>
#include <utility>
#include <vector>

#include <fcntl.h>
#include <poll.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

namespace phasewright::commands {

namespace {

quantity::Fault fault_of(std::string what, std::string where, std::string remedy = {}) {
    return {.what = std::move(what),
            .where = std::move(where),
            .found = {},
            .allowed = {},
            .remedy = std::move(remedy)};
}

std::string error_words(int number) { return std::generic_category().message(number); }

class Descriptor {
public:
    explicit Descriptor(int number = -1) : number_(number) {}
    Descriptor(Descriptor&& other) noexcept : number_(std::exchange(other.number_, -1)) {}
    Descriptor(Descriptor const&) = delete;
    Descriptor& operator=(Descriptor&&) = delete;
    Descriptor& operator=(Descriptor const&) = delete;
    ~Descriptor() {
        if (number_ >= 0) close(number_);
    }
    [[nodiscard]] int number() const { return number_; }
    [[nodiscard]] int release() { return std::exchange(number_, -1); }

private:
    int number_;
};

// A folder of our own that goes away with us.
class TemporaryFolder {
public:
    TemporaryFolder() {
        std::error_code none;
        std::string name = (std::filesystem::temp_directory_path(none) / "phasewright-XXXXXX").string();
        if (mkdtemp(name.data()) != nullptr) path_ = name;
    }
    TemporaryFolder(TemporaryFolder const&) = delete;
    TemporaryFolder& operator=(TemporaryFolder const&) = delete;
    ~TemporaryFolder() {
        std::error_code none;
        if (!path_.empty()) std::filesystem::remove_all(path_, none);
    }
    [[nodiscard]] std::filesystem::path const& path() const { return path_; }

private:
    std::filesystem::path path_;
};

// Closes the pipe to the child, gives it time to end, and ends it where it does not.
void end_child(pid_t process, int input) {
    if (input >= 0) close(input);
    for (int tries = 0; tries < 300; ++tries) {
        pid_t const done = waitpid(process, nullptr, WNOHANG);
        if (done == process || (done < 0 && errno != EINTR)) return;
        poll(nullptr, 0, 10);
        if (tries == 200) kill(process, SIGKILL);
    }
    waitpid(process, nullptr, 0);
}

// Reads until the word stands on a line of its own; false when the output closed or the time is over.
bool wait_for_word(int output, std::string_view word, double patience_s) {
    auto const until = std::chrono::steady_clock::now() + std::chrono::duration<double>(patience_s);
    std::string said;
    while (true) {
        auto const left =
            std::chrono::duration<double, std::milli>(until - std::chrono::steady_clock::now()).count();
        if (left <= 0.0) return false;
        pollfd watched{output, POLLIN, 0};
        int const ready = poll(&watched, 1, static_cast<int>(std::clamp(left, 1.0, 1000.0)));
        if (ready < 0 && errno != EINTR) return false;
        if (ready <= 0) continue;
        std::array<char, 512> bytes{};
        auto const count = read(output, bytes.data(), bytes.size());
        if (count < 0 && errno == EINTR) continue;
        if (count <= 0) return false;
        said.append(bytes.data(), static_cast<std::size_t>(count));
        if (said == std::string(word) + "\n" ||
            said.find("\n" + std::string(word) + "\n") != std::string::npos ||
            said.starts_with(std::string(word) + "\n"))
            return true;
    }
}

struct Pipes {
    Descriptor in_read, in_write, out_read, out_write;
};

std::expected<Pipes, quantity::Fault> make_pipes() {
    std::array<int, 2> in{}, out{};
    if (pipe2(in.data(), O_CLOEXEC) != 0) return std::unexpected(fault_of(error_words(errno), "pipe"));
    Descriptor in_read(in[0]), in_write(in[1]);
    if (pipe2(out.data(), O_CLOEXEC) != 0) return std::unexpected(fault_of(error_words(errno), "pipe"));
    return Pipes{std::move(in_read), std::move(in_write), Descriptor(out[0]), Descriptor(out[1])};
}

std::expected<pid_t, quantity::Fault> spawn(TwinCall const& call, std::filesystem::path const& ports_file,
                                            Pipes const& pipes) {
    std::vector<std::string> words{call.executable.string(),
                                   "twin",
                                   call.plan_file.string(),
                                   call.wired_file.string(),
                                   "--ports",
                                   ports_file.string(),
                                   "--profiles",
                                   call.profiles_folder.string()};
    if (call.bus_file) {
        words.emplace_back("--bus");
        words.push_back(call.bus_file->string());
    }
    std::vector<char*> arguments;
    for (auto& word : words) arguments.push_back(word.data());
    arguments.push_back(nullptr);

    posix_spawn_file_actions_t actions;
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_adddup2(&actions, pipes.in_read.number(), STDIN_FILENO);
    posix_spawn_file_actions_adddup2(&actions, pipes.out_write.number(), STDOUT_FILENO);
    pid_t process = -1;
    int const failed =
        posix_spawn(&process, call.executable.c_str(), &actions, nullptr, arguments.data(), environ);
    posix_spawn_file_actions_destroy(&actions);
    if (failed != 0) return std::unexpected(fault_of(error_words(failed), call.executable.string()));
    return process;
}

}  // namespace

std::expected<TwinChild, quantity::Fault> TwinChild::start(TwinCall const& call) {
    TemporaryFolder const folder;
    if (folder.path().empty())
        return std::unexpected(
            fault_of("no temporary folder can be made", "TMPDIR", "name a folder that can be written"));
    auto const ports_file = folder.path() / "ports";
    pid_t process = -1;
    int input = -1;
    bool ready = false;
    {
        auto pipes = make_pipes();
        if (!pipes) return std::unexpected(pipes.error());
        auto const spawned = spawn(call, ports_file, *pipes);
        if (!spawned) return std::unexpected(spawned.error());
        process = *spawned;
        input = pipes->in_write.release();
        close(pipes->out_write.release());
        ready = wait_for_word(pipes->out_read.number(), "ready", call.patience_s);
    }
    std::ifstream file(ports_file);
    std::ostringstream text;
    if (ready && file) {
        text << file.rdbuf();
        return TwinChild(process, input, text.str());
    }
    end_child(process, input);
    return std::unexpected(fault_of("the virtual meters did not start", call.wired_file.string(),
                                    "see what they said on the error output"));
}

TwinChild::TwinChild(TwinChild&& other) noexcept
    : process_(std::exchange(other.process_, -1)),
      input_(std::exchange(other.input_, -1)),
      ports_(std::move(other.ports_)) {}

TwinChild::~TwinChild() {
    if (process_ > 0) end_child(process_, input_);
}

}  // namespace phasewright::commands

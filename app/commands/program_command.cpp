#include "app/commands/program_command.hpp"

#include <algorithm>
#include <chrono>
#include <istream>
#include <ostream>
#include <thread>

#include <fmt/format.h>
#include <unistd.h>

#include "app/commands/bus_round_command.hpp"
#include "app/commands/interrupted.hpp"
#include "app/commands/plan_file.hpp"
#include "app/commands/plan_ports.hpp"
#include "app/commands/profile_shelf.hpp"
#include "app/commands/profiles_folder.hpp"
#include "app/commands/program_connections.hpp"
#include "app/commands/program_words.hpp"
#include "app/commands/terminal_lines.hpp"
#include "app/commands/whole_file.hpp"

namespace phasewright::commands {

namespace {

using quantity::Fault;

constexpr int as_meant = 0;
constexpr int not_all = 1;
constexpr int not_done = 2;

double unix_now() {
    return std::chrono::duration<double>(std::chrono::system_clock::now().time_since_epoch()).count();
}

// A line is a serial line or a gateway of the plan.
bool is_on(plan::MeteringPoint const& point, std::string const& line) {
    return point.address.serial_line == line || point.address.gateway == line;
}

std::expected<std::vector<plan::MeteringPoint const*>, Fault> chosen(plan::Site const& site,
                                                                     ProgramOptions const& options) {
    auto const unknown = [](std::string const& option, std::string const& id) {
        return std::unexpected(
            Fault{"the plan has nothing of this name", option, id, "an id of the plan", ""});
    };
    for (auto const& id : options.points)
        if (std::ranges::find(site.points, id, &plan::MeteringPoint::id) == site.points.end())
            return unknown("--point", id);
    for (auto const& id : options.confirmed)
        if (std::ranges::find(site.points, id, &plan::MeteringPoint::id) == site.points.end())
            return unknown("--confirm", id);
    for (auto const& id : options.lines)
        if (std::ranges::none_of(site.points, [&](auto const& point) { return is_on(point, id); }))
            return unknown("--line", id);
    std::vector<plan::MeteringPoint const*> points;
    for (auto const& point : site.points) {
        bool const named = std::ranges::find(options.points, point.id) != options.points.end();
        bool const on_line =
            std::ranges::any_of(options.lines, [&](auto const& id) { return is_on(point, id); });
        if (options.all || named || on_line) points.push_back(&point);
    }
    if (points.empty())
        return std::unexpected(Fault{"no meter is named", "", "", "--point ID, --line ID or --all",
                                     "name what is to be looked at"});
    if ((options.at || !options.at_format.empty()) && points.size() != 1)
        return std::unexpected(
            Fault{"another place is said for several meters", "--at", "", "one --point", "go one by one"});
    return points;
}

std::expected<void, Fault> check(ProgramOptions const& options) {
    int const kinds = (options.write ? 1 : 0) + (options.undo ? 1 : 0) + (options.finish ? 1 : 0);
    if (kinds > 1)
        return std::unexpected(
            Fault{"two things are asked for at once", "", "", "one of --write, --undo, --finish", ""});
    if (options.at && (*options.at < 1 || *options.at > 247))
        return std::unexpected(Fault{"this is no address of one meter", "--at", std::to_string(*options.at),
                                     "1 to 247; 0 would be everybody, and nothing is ever broadcast", ""});
    if (!options.at_format.empty() && !serial_format_of(options.at_format))
        return std::unexpected(
            Fault{"the serial format is not known", "--at-format", options.at_format, "19200-8E1", ""});
    return {};
}

class Programming {
public:
    Programming(plan::Site const& site, ProgramOptions const& options, std::istream& in, std::ostream& out,
                std::ostream& err)
        : site_(site),
          options_(options),
          in_(in),
          out_(out),
          err_(err),
          shelf_(profiles_folder(options.profiles_folder)),
          interrupted_([this] { stop_.request(); }),
          connections_(site, stop_, [this](std::string const& words) {
              err_ << printable(words) << '\n' << std::flush;
          }) {}

    int run(std::vector<plan::MeteringPoint const*> const& points) {
        if (auto const opened = open_journal(); !opened) return refuse(opened.error());
        bool const writes = options_.write || options_.undo || options_.finish;
        if (writes && !options_.json) out_ << program_cautions() << '\n';
        int worst = as_meant;
        for (auto const* const point : points) {
            if (stop_.requested()) {
                say_not_tried(*point, "stopped before this meter; nothing was asked or written");
                worst = not_done;
                continue;
            }
            worst = std::max(worst, one(*point));
        }
        return worst;
    }

private:
    int refuse(Fault const& fault) {
        err_ << "phasewright program: " << printable(quantity::to_sentence(fault)) << '\n';
        return not_done;
    }

    std::filesystem::path journal_path() const {
        if (options_.journal_file) return *options_.journal_file;
        auto path = options_.plan_file;
        path.replace_filename(path.stem().string() + "-settings.jsonl");
        return path;
    }

    std::expected<void, Fault> open_journal() {
        auto const path = journal_path();
        if (options_.write || options_.undo || options_.finish) {
            auto opened = program::journal_file(path);
            if (!opened) return std::unexpected(opened.error());
            journal_ = std::move(*opened);
        }
        return read_journal();
    }

    std::expected<void, Fault> read_journal() {
        std::error_code none;
        if (!std::filesystem::exists(journal_path(), none) ||
            std::filesystem::file_size(journal_path(), none) == 0)
            return {};
        auto const text = text_of(journal_path(), "the settings journal");
        if (!text) return std::unexpected(text.error());
        auto runs = program::runs_of(*text, journal_path().string());
        if (!runs) return std::unexpected(runs.error());
        runs_ = std::move(*runs);
        return {};
    }

    void say_not_tried(plan::MeteringPoint const& point, std::string why) {
        program::MeterResult result{
            .point = point.id, .meter = {}, .unit = static_cast<std::uint8_t>(point.address.unit)};
        result.failed = std::move(why);
        say(result, point, false);
    }
    void say(program::MeterResult const& result, plan::MeteringPoint const& point, bool would_write) {
        if (options_.json) {
            out_ << program_json(result, options_.undo     ? "undo"
                                         : options_.finish ? "finish"
                                         : would_write     ? "compare"
                                                           : "write")
                 << '\n';
        } else {
            out_ << program_lines(result, point.name.empty() ? point.id : point.name + " (" + point.id + ")",
                                  would_write)
                 << '\n';
        }
        out_.flush();
    }

    // The answer to a question that names the meter, typed or given beforehand.
    bool confirmed(plan::MeteringPoint const& point, std::string const& what) {
        if (std::ranges::find(options_.confirmed, point.id) != options_.confirmed.end()) return true;
        (options_.json ? err_ : out_)
            << fmt::format("Type {} to {}, anything else to leave it: ", point.id, what) << std::flush;
        std::string typed;
        std::getline(in_, typed);
        (options_.json ? err_ : out_) << '\n';
        while (!typed.empty() && (typed.back() == ' ' || typed.back() == '\r')) typed.pop_back();
        return typed == point.id;
    }

    std::optional<program::Job> job_for(plan::MeteringPoint const& point) {
        if (point.meter_profile == "sunspec") {
            say_not_tried(point,
                          "the open SunSpec meter models have no settings: set this meter at its own "
                          "buttons, or write a "
                          "profile for it");
            return std::nullopt;
        }
        auto const taken = shelf_.take(point.meter_profile);
        if (!taken) {
            say_not_tried(point, quantity::to_sentence(taken.error()));
            return std::nullopt;
        }
        program::Job job;
        job.run = fmt::format("{}-{}-{}", program::utc_words(unix_now()), point.id, runs_.size() + 1);
        job.point = point.id;
        job.place = point.address.serial_line.empty()
                        ? fmt::format("{}:{}", point.address.host, point.address.port)
                        : point.address.serial_line;
        job.profile_name = point.meter_profile;
        job.planned_serial = point.meter_serial;
        job.profile = taken->get();
        job.unit = static_cast<std::uint8_t>(options_.at.value_or(point.address.unit));
        job.planned_offset_min = site_.utc_offset_min;
        job.unix_now = unix_now;
        job.wait = [](double seconds) {
            std::this_thread::sleep_for(std::chrono::duration<double>(seconds));
        };
        return job;
    }

    int one(plan::MeteringPoint const& point) {
        auto const job = job_for(point);
        if (!job) return point.meter_profile == "sunspec" ? not_all : not_done;
        if (job->unit == 0 ||
            (point.address.serial_line.empty() && point.address.gateway.empty() && options_.at)) {
            say_not_tried(
                point,
                "only a meter on a serial line or behind a gateway has an address to look at, 1 to 247");
            return not_done;
        }
        auto const format = options_.at_format.empty() ? std::nullopt : serial_format_of(options_.at_format);
        auto const connection = connections_.to(point.address, format);
        if (!connection) {
            say_not_tried(point, codec::to_finding(connection.error()));
            return not_done;
        }
        auto const* const open = program::open_run(runs_, point.id);
        if (options_.undo || options_.finish) return settle(**connection, *job, point, open);
        auto const wanted = program::wanted_of(point, site_);
        auto seen = program::compare_meter(**connection, *job, wanted);
        if (open != nullptr)
            seen.notes.push_back(fmt::format(
                "writing to it was cut off on {}: finish it with --finish, or take it back with --undo",
                open->time));
        bool const something = std::ranges::any_of(
            seen.rows, [](auto const& row) { return row.state == program::RowState::would_write; });
        if (!options_.write || seen.failed || !something || open != nullptr) {
            say(seen, point, true);
            if (seen.failed) return not_done;
            return seen.whole && open == nullptr ? as_meant : not_all;
        }
        if (!options_.json) say(seen, point, true);
        if (!confirmed(point, "write this to the meter")) {
            say_not_tried(point, "not confirmed; nothing was written");
            return not_all;
        }
        auto const done = program::program_meter(**connection, *job, wanted, *journal_);
        say(done, point, false);
        after_writing();
        return done.whole ? as_meant : done.failed ? not_done : not_all;
    }

    int settle(program::Connection& connection, program::Job const& job, plan::MeteringPoint const& point,
               program::Run const* open) {
        auto const* const run = options_.finish ? open : program::run_to_undo(runs_, point.id);
        bool const resumes_undo =
            options_.undo && open != nullptr && open->begin.purpose == program::Purpose::undo;
        auto const* const taken = resumes_undo ? open : run;
        if (taken == nullptr) {
            say_not_tried(point, options_.finish ? "nothing was cut off here"
                                                 : "the journal has nothing to take back here");
            return not_all;
        }
        if (!options_.json)
            out_ << fmt::format(
                "{}: {} of {}, steps: {}\n", printable(point.id),
                options_.finish || resumes_undo ? "the rest" : "what was found before the writing",
                taken->time, taken->begin.steps.size());
        if (!confirmed(point, options_.finish ? "finish writing to the meter" : "put back what was found")) {
            say_not_tried(point, "not confirmed; nothing was written");
            return not_all;
        }
        bool const finishes = options_.finish || resumes_undo;
        auto const done = finishes ? program::finish_run(connection, job, runs_, *taken, *journal_)
                                   : program::undo_run(connection, job, runs_, *taken, *journal_);
        say(done, point, false);
        after_writing();
        return done.whole ? as_meant : done.failed ? not_done : not_all;
    }

    void after_writing() {
        if (auto const read = read_journal(); !read)
            err_ << printable(quantity::to_sentence(read.error())) << '\n';
    }

    plan::Site const& site_;
    ProgramOptions const& options_;
    std::istream& in_;
    std::ostream& out_;
    std::ostream& err_;
    ProfileShelf shelf_;
    finder::Stop stop_;
    Interrupted interrupted_;
    ProgramConnections connections_;
    std::unique_ptr<program::Journal> journal_;
    std::vector<program::Run> runs_;
};

}  // namespace

int program_command(ProgramOptions const& options, std::istream& in, std::ostream& out, std::ostream& err) {
    auto const refuse = [&](Fault const& fault) {
        err << "phasewright program: " << printable(quantity::to_sentence(fault)) << '\n';
        return not_done;
    };
    if (auto const good = check(options); !good) return refuse(good.error());
    auto const site = planned_site(options.plan_file, options.ports_file);
    if (!site) return refuse(site.error());
    auto const points = chosen(*site, options);
    if (!points) return refuse(points.error());
    Programming programming(*site, options, in, out, err);
    return programming.run(*points);
}

}  // namespace phasewright::commands

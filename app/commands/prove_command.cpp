#include "app/commands/prove_command.hpp"

#include <algorithm>
#include <cstdio>

#include <fmt/core.h>
#include <nlohmann/json.hpp>
#include <sys/ioctl.h>
#include <unistd.h>

#include "app/commands/meter_rounds.hpp"
#include "app/commands/plan_file.hpp"
#include "app/commands/plan_ports.hpp"
#include "app/commands/priors_file.hpp"
#include "app/commands/profiles_folder.hpp"
#include "app/commands/reading_line_writer.hpp"
#include "app/commands/terminal_lines.hpp"
#include "app/commands/twin_child.hpp"
#include "app/commands/verdict_lines.hpp"
#include "app/commands/whole_file.hpp"
#include "core/diagnosis/diagnose.hpp"
#include "core/readings/check.hpp"
#include "core/report/job_report.hpp"
#include "print/sheet/html.hpp"

namespace phasewright::commands {

namespace {

using quantity::Fault;

constexpr int done = 0;
constexpr int could_not_be_done = 2;

int refuse(Fault const& fault) {
    fmt::print(stderr, "{}\n", printable(quantity::to_sentence(fault)));
    return could_not_be_done;
}

std::filesystem::path report_file_of(ProveOptions const& options) {
    if (options.report_file) return *options.report_file;
    auto name = options.plan_file.filename().string();
    for (std::string_view const ending : {".toml", ".plan"})
        if (name.ends_with(ending)) name.resize(name.size() - ending.size());
    return name + "-report.html";
}

TerminalStyle style_of_terminal() {
    TerminalStyle style;
    if (isatty(STDOUT_FILENO) == 0) return style;
    style.weight = true;
    winsize size{};
    if (ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0)
        style.width = std::clamp<std::size_t>(size.ws_col, 60, 120);
    return style;
}

// Says how far the job is, on the error output: rewritten in place on a terminal, else one plain line a
// meter.
class Progress {
public:
    Progress() : on_terminal_(isatty(STDERR_FILENO) != 0), began_s_(steady_now_s()) {}
    void say(std::string_view doing, std::size_t at, std::size_t of, std::string_view name) const {
        if (on_terminal_) {
            fmt::print(stderr, "\r\x1b[K{}",
                       progress_text({doing, at, of, name, steady_now_s() - began_s_}, 79));
        } else if (doing == "reading") {
            fmt::print(stderr, "{} {} of {}: {}\n", doing, at + 1, of, printable(name));
        }
        std::fflush(stderr);
    }
    void clear() const {
        if (!on_terminal_) return;
        fmt::print(stderr, "\r\x1b[K");
        std::fflush(stderr);
    }

private:
    bool on_terminal_;
    double began_s_;
};

std::string_view name_of(plan::MeteringPoint const& point) {
    return point.name.empty() ? point.id : point.name;
}

struct Answer {
    report::PointSheet sheet;
    std::optional<Fault> refused;  // why the readings could not be used
};

Answer answer_of(plan::Site const& site, plan::MeteringPoint const& point, MeterRecord const& record,
                 bool with_load_kind, diagnosis::Diagnoser& diagnoser) {
    Answer answer;
    auto& sheet = answer.sheet;
    sheet.point = point;
    sheet.bus_findings = record.findings;
    if (record.readings.empty()) return answer;
    auto const& last = record.readings.back().reading;
    sheet.meter_identity = last.identity;
    sheet.notes = last.notes;
    sheet.readings = reading_set_of(site, point, record.readings, record.profile.get(), with_load_kind);
    answer.refused = readings::check(*sheet.readings);
    if (answer.refused) {
        auto const said = quantity::to_sentence(*answer.refused);
        sheet.bus_findings.push_back({diagnosis::Severity::mend, said});
        return answer;
    }
    sheet.verdict = diagnoser.diagnose(*sheet.readings);
    return answer;
}

// The sentences of the paper beside the contract's own fields.
std::string carried_of(report::PointSheet const& sheet) {
    nlohmann::ordered_json fields;
    fields["x_name"] = printable(name_of(sheet.point));
    fields["x_state"] = std::string(report::word_of(report::state_of(sheet)));
    fields["x_says"] = printable(report::headline(sheet));
    fields["x_foot"] = report::foot_line(sheet);
    return fields.dump();
}

std::string json_line(Answer const& answer, std::size_t line) {
    auto const& sheet = answer.sheet;
    if (sheet.verdict)
        return verdict_line(*sheet.verdict, readings::model_of(*sheet.readings), carried_of(sheet));
    Fault fault = answer.refused.value_or(Fault{});
    if (!answer.refused) fault.what = fault.found = printable(report::headline(sheet));
    return fault_line(line, {sheet.point.id, carried_of(sheet), fault});
}

void say_cautions(std::FILE* out, std::size_t width) {
    for (auto const& caution : report::standing_cautions())
        for (auto const& line : wrapped(caution, width)) fmt::print(out, "{}\n", line);
    fmt::print(out, "\n");
    std::fflush(out);
}

// Reads, weighs and says; gives the sheets of the report.
std::vector<report::PointSheet> prove_points(plan::Site const& site, ProveOptions const& options,
                                             RoundsSettings const& settings, diagnosis::PriorSets const& priors) {
    Progress const progress;
    auto const style = style_of_terminal();
    auto const name_width = name_columns(site.points, style);
    auto const records =
        read_all_meters(site, settings, [&](std::size_t at, std::size_t of, auto const& point) {
            progress.say("reading", at, of, name_of(point));
        });
    std::vector<report::PointSheet> sheets;
    diagnosis::Diagnoser diagnoser(priors);
    Progress const weighing;
    for (std::size_t k = 0; k < site.points.size(); ++k) {
        weighing.say("weighing", k, site.points.size(), name_of(site.points[k]));
        auto answer = answer_of(site, site.points[k], records[k], !options.no_load_kinds, diagnoser);
        weighing.clear();
        fmt::print("{}", options.json ? json_line(answer, k + 1) + "\n"
                                      : point_lines(answer.sheet, name_width, style));
        std::fflush(stdout);
        sheets.push_back(std::move(answer.sheet));
    }
    double const now = steady_now_s();
    for (std::size_t k = 0; k < sheets.size(); ++k)
        if (sheets[k].readings) sheets[k].reading_age_s = now - records[k].last_read_s;
    return sheets;
}

// What was read of every meter that answered, one line of the contract each.
std::string lines_of(std::vector<report::PointSheet> const& sheets) {
    std::string lines;
    for (auto const& sheet : sheets)
        if (sheet.readings) lines += line_of(*sheet.readings, std::string{name_of(sheet.point)}) + "\n";
    return lines;
}

void say_end(report::JobReport const& job, std::filesystem::path const& file, bool json) {
    std::FILE* const out = json ? stderr : stdout;
    fmt::print(out, "\n{}\n", report::counts_line(job));
    if (auto const next = report::next_to_work_on(job))
        fmt::print(out, "Next: {}{}.\n", printable(report::place_line(job, job.sheets[*next])),
                   report::has_stop(job.sheets[*next]) ? ": stop" : "");
    std::error_code none;
    fmt::print(out, "The report is in {}\n", printable(std::filesystem::absolute(file, none).string()));
}

std::expected<plan::Site, Fault> plan_of(ProveOptions const& options) {
    auto const text = text_of(options.plan_file, "the plan");
    if (!text) return std::unexpected(text.error());
    return read_plan(*text, options.plan_file.string());
}

}  // namespace

int run_prove(ProveOptions const& options) {
    auto site = plan_of(options);
    if (!site) return refuse(site.error());
    auto priors = options.priors_file ? priors_from(*options.priors_file) : diagnosis::built_in_sets();
    if (!priors) return refuse(priors.error());
    auto const profiles = profiles_folder(options.profiles_folder);

    std::optional<TwinChild> twins;
    if (options.twins_file) {
        auto started = TwinChild::start({.executable = own_executable(),
                                         .plan_file = options.plan_file,
                                         .wired_file = *options.twins_file,
                                         .profiles_folder = profiles,
                                         .bus_file = options.bus_file});
        if (!started) return refuse(started.error());
        twins.emplace(std::move(*started));
        for (auto& point : site->points)
            if (point.address.serial_line.empty()) point.address.host = "127.0.0.1";
    }
    if (twins)
        if (auto filled = fill_ports(*site, twins->ports(), options.twins_file->string()); !filled)
            return refuse(filled.error());
    auto const open = std::ranges::find_if(site->points, [](auto const& point) {
        return point.address.serial_line.empty() && point.address.port == 0;
    });
    if (open != site->points.end())
        return refuse({"the port of this point's meter is not known",
                       options.plan_file.string() + " " + open->id, "0", "1 to 65535",
                       "write its port into the plan; 0 is for virtual meters (--twins)"});
    auto const unplugged = std::ranges::find(site->serial_lines, std::string{}, &plan::SerialLine::device);
    if (unplugged != site->serial_lines.end())
        return refuse({"the port of this serial line is not known", options.plan_file.string() + " " + unplugged->id, "nothing",
                       "a device", "write its device into the plan, such as \"/dev/ttyUSB0\""});

    say_cautions(options.json ? stderr : stdout, 80);
    report::JobReport job;
    job.sheets = prove_points(*site, options, {.profiles_folder = profiles, .rounds = options.snapshots}, *priors);
    job.site = std::move(*site);
    job.made_at = iso_now();
    job.program = options.program;
    auto const file = report_file_of(options);
    if (auto const written = write_whole(file, sheet::html_of(job), "report", "name another file with --report");
        !written)
        return refuse(written.error());
    if (options.readings_file)
        if (auto const written = write_whole(*options.readings_file, lines_of(job.sheets), "file of readings",
                                             "name another file with --readings");
            !written)
            return refuse(written.error());
    say_end(job, file, options.json);
    return done;
}

}  // namespace phasewright::commands

// The command line. It only names the commands and hands over; every command is a function in its own file.
#include <iostream>
#include <string>

#include <CLI/CLI.hpp>

#include "app/commands/ask_command.hpp"
#include "app/commands/bus_poll_command.hpp"
#include "app/commands/bus_check_command.hpp"
#include "app/commands/bus_find_command.hpp"
#include "app/commands/bus_round_command.hpp"
#include "app/commands/confirm_command.hpp"
#include "app/commands/decode_command.hpp"
#include "app/commands/diagnose_command.hpp"
#include "app/commands/evidence_cli.hpp"
#include "app/commands/job_cli.hpp"
#include "app/commands/mistakes_page.hpp"
#include "app/commands/plan_cli.hpp"
#include "app/commands/profile_check_command.hpp"
#include "app/commands/program_command.hpp"
#include "app/commands/prove_command.hpp"
#include "app/commands/restate_command.hpp"
#include "app/commands/twin_command.hpp"

namespace {
using namespace phasewright::commands;

constexpr auto about =
    "phasewright proves from live readings that a power meter sees every voltage with its own current,\n"
    "the right way round, at the right ratio. It says nothing about safety: work on live parts belongs\n"
    "to qualified people under the local code.";
constexpr auto prove_help =
    "Read every meter of a plan over its own bus, say what is wrong with its wiring and which lead to move "
    "first,\n"
    "and write the report. Exit status: 0 when the job was done, whatever it found, 2 when it could not be "
    "done.";
constexpr auto diagnose_help =
    "Say which wiring each meter has, how sure that is, and what to move or measure next.\n"
    "One reading set a line in (JSON), one verdict a line out, in the same order.\n"
    "Exit status: 0 when every line was answered, 2 when some were not.";
constexpr auto twin_help =
    "Run the virtual meters of a plan on loopback, wired as a second file says, until standard input closes.";

constexpr auto priors_help =
    "What is believed before any reading, as a file (docs/reference/priors.md; default: built in)";

void add_prove(CLI::App& app, ProveOptions& options, int& status) {
    auto* const prove = app.add_subcommand("prove", prove_help);
    prove->add_option("PLAN", options.plan_file, "The plan of the site (docs/reference/plan.md)")->required();
    prove->add_option("--report", options.report_file,
                      "Where to write the report (default: PLAN-report.html here)");
    prove->add_option("--twins", options.twins_file,
                      "Start virtual meters wired as this file says, and read those");
    prove->add_option("--bus", options.bus_file, "How the virtual meters' buses really are (docs/reference/twin.md)");
    prove->add_option("--profiles", options.profiles_folder,
                      "Folder of meter profiles (default: those that came along)");
    prove->add_option("--snapshots", options.snapshots, "Readings of each meter, one second apart")
        ->check(CLI::Range(1, 100))
        ->capture_default_str();
    prove->add_option("--readings", options.readings_file,
                      "Also write here what was read, one JSON line a point, for phasewright diagnose");
    prove->add_option("--priors", options.priors_file, priors_help);
    prove->add_flag("--no-load-kinds", options.no_load_kinds,
                    "Judge as if the plan did not tell the kinds of load");
    prove->add_flag("--json", options.json, "One JSON line a metering point instead of lines for people");
    prove->callback([&] { status = run_prove(options); });
}

struct DiagnoseOptions {
    std::string file;
    std::optional<std::filesystem::path> priors_file;
    bool ask = false;
    AskOptions talk;
};

void add_diagnose(CLI::App& app, DiagnoseOptions& options, int& status) {
    auto* const diagnose = app.add_subcommand("diagnose", diagnose_help);
    diagnose->add_option("FILE", options.file, "File of reading sets, one JSON object a line; - for standard input")
        ->required();
    diagnose->add_option("--priors", options.priors_file, priors_help);
    auto* const ask = diagnose->add_flag("--ask", options.ask,
                                         "Propose the next test, take its answer, and go on until the wiring is settled");
    diagnose->add_option("--id", options.talk.id, "Which reading set to ask about, where the file holds several")->needs(ask);
    diagnose->add_option("--save", options.talk.save_file, "Write the readings with their answers here at the end")->needs(ask);
    diagnose->callback([&] {
        if (options.ask) {
            options.talk.file = options.file;
            options.talk.priors_file = options.priors_file;
            status = ask_command(options.talk, std::cin, std::cout, std::cerr);
            return;
        }
        status = diagnose_command(options.file, std::cin, std::cout, std::cerr, options.priors_file);
    });
}

void add_twin(CLI::App& app, TwinOptions& options, int& status) {
    auto* const twin = app.add_subcommand("twin", twin_help);
    twin->add_option("PLAN", options.plan_file, "The plan of the site (docs/reference/plan.md)")->required();
    twin->add_option("WIRED", options.wired_file, "How its leads really run (docs/reference/twin.md)")
        ->required();
    twin->add_option("--bus", options.bus_file, "How its buses really are (docs/reference/twin.md; default: as planned)");
    twin->add_option("--ports", options.ports_file, "Write here which port each point and which device each serial line got");
    twin->add_option("--profiles", options.profiles_folder,
                     "Folder of meter profiles (default: those that came along)");
    twin->callback([&] { status = run_twin(options); });
}

void add_mistakes(CLI::App& app) {
    auto* const mistakes = app.add_subcommand("mistakes", "Print what every mistake does to the readings, as Markdown.");
    mistakes->callback([] { std::cout << mistakes_page(); });
}

constexpr auto confirm_help =
    "After a repair: does the new reading show what was promised? Two files of reading sets, one a line, from before\n"
    "and after the move, matched by id (docs/reference/confirm.md). A reading that is not newer never confirms.\n"
    "Exit status: 0 when every pair was judged, whatever the judgement, 2 when some could not be.";

void add_confirm(CLI::App& app, ConfirmOptions& options, int& status) {
    auto* const confirm = app.add_subcommand("confirm", confirm_help);
    confirm->add_option("BEFORE", options.before_file, "Reading sets from before the move")->required();
    confirm->add_option("AFTER", options.after_file, "Reading sets from after it, under the same ids")->required();
    confirm->add_option("--moved-at", options.moved_at,
                        "When the last lead was moved: 2026-05-20T10:20:00+02:00 (default: the reading before stands for it)");
    confirm->add_option("--priors", options.priors_file, priors_help);
    confirm->add_flag("--json", options.json, "One JSON line a pair instead of lines for people");
    confirm->callback([&] { status = confirm_command(options, std::cout, std::cerr); });
}

constexpr auto restate_help =
    "What the energy really was while a meter was wired wrong: interval data and its wiring in, a corrected series\n"
    "and a total with its range out (docs/reference/restate.md). Arithmetic on readings: what may be billed is for\n"
    "the rules of the place. Exit status: 0 when it was restated, 2 when it was refused or could not be done.";

void add_restate(CLI::App& app, RestateOptions& options, int& status) {
    auto* const restate = app.add_subcommand("restate", restate_help);
    restate->add_option("DATA", options.data_file, "Interval data, a CSV file")->required();
    restate->add_option("--service", options.service, "Code of the service: 3P4W")->required();
    restate->add_option("--nominal", options.nominal, "Rated voltages, V_LN/V_LL: 230/400")->required();
    restate->add_option("--wiring", options.wiring, "What feeds each element: '+a,-b,+c'");
    restate->add_option("--voltage", options.voltage, "What each voltage terminal touches: a,b,lost");
    restate->add_option("--neutral", options.neutral, "What the neutral terminal touches");
    restate->add_option("--ratio", options.ratio, "Programmed / installed, one a current input: 1,1,2");
    restate->add_option("--verdict", options.verdict_file, "Instead: verdicts of phasewright diagnose, one a line");
    restate->add_option("--id", options.id, "Which verdict of that file");
    restate->add_option("--rotation", options.rotation, "Of the phases at the source: abc or acb");
    restate->add_option("--register", options.register_kind, "net, import, export, absolute or per-phase");
    restate->add_option("--balanced-within", options.balanced_within, "For totals: the load is balanced within this share");
    restate->add_option("--shares", options.shares, "Of the elements after the repair: '0.33,0.31,0.36+-0.02'");
    restate->add_option("--pf", options.power_factor, "Of the load: '0.85+-0.03', '0.95+-0.02 leading'");
    restate->add_option("--unbalance", options.unbalance, "Of the supply's voltages (default: 0.01)");
    restate->add_option("--ct-class", options.ct_class, "As marked: 0.5");
    restate->add_option("--meter-class", options.meter_class, "As marked: 0.5S");
    restate->add_option("--interval", options.interval_s, "Length of an interval in s, where the file does not say");
    restate->add_option("--limit-days", options.limit_days, "How far back a correction may reach, by the rules of the place");
    restate->add_option("--limit-until", options.limit_until, "From when that is counted back (default: end of the data)");
    restate->add_option("--seed", options.seed, "Of the draws behind the range")->capture_default_str();
    restate->add_option("--out", options.out_file, "Where to write the corrected series, a CSV file");
    restate->add_flag("--json", options.json, "One JSON object instead of lines for people");
    restate->callback([&] { status = restate_command(options, std::cout, std::cerr); });
}

constexpr auto decode_help =
    "What the registers of a meter mean that nobody has described, and a profile to propose; or, with --profile, whether\n"
    "a profile fits and which single change would make it fit (docs/tasks/decode-an-unknown-meter.md). Only reads.\n"
    "Exit status: 0 when it was judged, whatever the judgement, 2 when it could not be.";

void add_decode(CLI::App& app, DecodeOptions& options, int& status) {
    auto* const decode = app.add_subcommand("decode", decode_help);
    auto* const dump = decode->add_option("--dump", options.dump_files, "A register dump (docs/reference/register-dump.md); may be given again");
    decode->add_option("--nominal", options.nominal, "Rated voltages as the meter is meant to show them, V_LN/V_LL: 230/400");
    decode->add_option("--hz", options.hz, "Rated frequency")->capture_default_str();
    decode->add_option("--current", options.current, "Between which currents the load is, in A, as a clamp shows: 5-60");
    decode->add_option("--phases", options.phases, "Voltages against the neutral that the meter shows: 3, 2 or 1")->capture_default_str();
    decode->add_option("--profile", options.profile_file, "Does this profile fit?");
    decode->add_option("--propose", options.propose_file, "Write the proposed profile here");
    auto* const read = decode->add_option("--read", options.read_from, "Read a meter: HOST[:PORT], or a device such as /dev/ttyUSB0");
    read->excludes(dump);
    decode->add_option("--unit", options.unit, "Unit address")->capture_default_str()->needs(read);
    decode->add_option("--function", options.function, "3: holding registers, 4: input registers")->capture_default_str()->needs(read);
    decode->add_option("--from", options.from, "First address, as on the wire")->needs(read);
    decode->add_option("--count", options.count, "How many registers")->needs(read);
    decode->add_option("--longest", options.longest, "Registers in one question")->check(CLI::Range(1, 125))->capture_default_str()->needs(read);
    decode->add_option("--times", options.times, "How many dumps")->capture_default_str()->needs(read);
    decode->add_option("--every", options.every_s, "Seconds from one to the next")->capture_default_str()->needs(read);
    decode->add_option("--wait-ms", options.answer_timeout_ms, "How long an answer is waited for, in ms")->check(CLI::Range(20, 60000))->capture_default_str()->needs(read);
    decode->add_option("--speed", options.speed, "Of a serial line, in bit/s")->check(CLI::Range(300, 921600))->capture_default_str()->needs(read);
    decode->add_option("--parity", options.parity, "Of a serial line: even, odd, none")->capture_default_str()->needs(read);
    decode->add_option("--save", options.save_file, "Write the dump here")->needs(read);
    decode->add_flag("--json", options.json, "One JSON object instead of lines for people");
    decode->callback([&] { status = decode_command(options, std::cout, std::cerr); });
}

// phasewright bus find, check, round, poll: one command with several under it.
CLI::App& bus_of(CLI::App& app) {
    auto const known = app.get_subcommands([](CLI::App* one) { return one->get_name() == "bus"; });
    if (!known.empty()) return *known.front();
    auto* const bus = app.add_subcommand("bus", "The lines that the meters of a plan are on.");
    bus->require_subcommand(1);
    return *bus;
}

constexpr auto bus_find_help =
    "Find the devices on the lines and hosts that are named, and compare them with a plan. Listens for 10 s before it\n"
    "asks on a serial line, and asks nothing where another master is heard. Only reads (docs/reference/bus-find.md).\n"
    "Exit status: 0 when all was searched, whatever was found, 2 when something could not be.";

void add_bus_find(CLI::App& app, BusFindOptions& options, int& status) {
    auto* const find = bus_of(app).add_subcommand("find", bus_find_help);
    find->add_option("--serial", options.serial, "A serial port: /dev/ttyUSB0; may be given again");
    find->add_option("--gateway", options.gateways, "A gateway's units: HOST[:PORT]; may be given again");
    find->add_option("--host", options.hosts, "Hosts: 192.0.2.10-20,meter-3:1502 (at most 1024, 16 at a time)");
    find->add_option("--plan", options.plan_file, "All lines, gateways and hosts of this plan");
    find->add_option("--ports", options.ports_file, "The ports that the plan left open");
    find->add_option("--line", options.lines, "Only this line of the plan, by its id; may be given again");
    find->add_option("--units", options.units, "Which units: 1-32")->capture_default_str();
    find->add_option("--format", options.format, "Only this speed and parity: 19200-8E1");
    find->add_flag("--all-formats", options.all_formats, "Go on through the formats after devices answered in one");
    find->add_option("--listen-s", options.listen_s, "How long is listened first, in s; less than 10 counts as 10")
        ->check(CLI::Range(0.0, 86400.0))
        ->capture_default_str();
    find->add_option("--wait-ms", options.wait_ms, "How long a first byte is waited for on a serial line, in ms")
        ->check(CLI::Range(20, 10000))
        ->capture_default_str();
    find->add_option("--gateway-wait-ms", options.gateway_wait_ms, "How long a gateway's answer is waited for, in ms")
        ->check(CLI::Range(20, 60000))
        ->capture_default_str();
    find->add_flag("--json", options.json, "One JSON object a line, gateway or host instead of lines for people");
    find->callback([&] { status = bus_find_command(options, std::cout, std::cerr); });
}

constexpr auto bus_check_help =
    "What is wrong with a serial line: asks every planned device several times, weighs what came back, and says what to\n"
    "check next (docs/reference/bus-check.md). Listens for 10 s first; only reads. Volts and ohms measured by hand weigh\n"
    "what bytes cannot. Exit status: 0 when it was judged, whatever the judgement, 2 when it could not be.";

void add_bus_check(CLI::App& app, BusCheckOptions& options, int& status) {
    auto* const check = bus_of(app).add_subcommand("check", bus_check_help);
    check->add_option("--plan", options.plan_file, "The plan of the site (docs/reference/plan.md)")->required();
    check->add_option("--ports", options.ports_file, "The ports that the plan left open");
    check->add_option("--line", options.line, "Id of the serial line, where the plan has several");
    check->add_option("--tries", options.tries, "How often each device is asked")
        ->check(CLI::Range(1, 1000))
        ->capture_default_str();
    check->add_option("--listen-s", options.listen_s, "How long is listened first, in s; less than 10 counts as 10")
        ->check(CLI::Range(0.0, 86400.0))
        ->capture_default_str();
    check->add_option("--volts", options.volts, "Idle D1 - D0 in V: 0.18 at the head, 9=-0.25 at position 9; may be given again");
    check->add_option("--ohms", options.ohms, "Across the unpowered pair at the head: 60, or open");
    check->add_option("--common-volts", options.common_v, "Between the commons of the two ends, in V");
    auto* const recorded = check->add_option("--recorded", options.recorded_file, "Judge these exchanges; nothing is asked");
    check->add_option("--save", options.save_file, "Keep what was asked and what came back here")->excludes(recorded);
    check->add_flag("--json", options.json, "One JSON object instead of lines for people");
    check->callback([&] { status = bus_check_command(options, std::cout, std::cerr); });
}

constexpr auto round_help =
    "How long each serial line of a plan needs to read all its meters once, which speeds and intervals fit, and what a\n"
    "silent meter costs (docs/reference/poll-round.md). Nothing is asked on any line.";

void add_bus_round(CLI::App& app, BusRoundOptions& options, int& status) {
    auto* const round = bus_of(app).add_subcommand("round", round_help);
    round->add_option("--plan", options.plan_file, "The plan of the site (docs/reference/plan.md)")->required();
    round->add_option("--interval", options.interval_s, "How often each meter shall be read, in s")
        ->check(CLI::Range(0.1, 86400.0))
        ->capture_default_str();
    round->add_option("--silent", options.silent, "Point that does not answer; may be given again");
    round->add_option("--tries", options.tries, "How often a silent meter is asked in a round")
        ->check(CLI::Range(1, 20))
        ->capture_default_str();
    round->add_option("--answer-delay", options.answer_delay_ms,
                      "From the end of a question to the beginning of its answer, in ms (default: 3.5 characters)")
        ->check(CLI::Range(0.0, 60000.0));
    round->add_option("--behind-gateways", options.behind_gateways,
                      "Time the gateways of the plan too, as lines of this format: 19200-8E1");
    round->add_option("--profiles", options.profiles_folder, "Folder of meter profiles (default: those that came along)");
    round->add_flag("--json", options.json, "One JSON object a line instead of lines for people");
    round->callback([&] { status = bus_round_command(options, std::cout, std::cerr); });
}

constexpr auto poll_help =
    "Read every meter of a plan again and again and say what was read and what was odd (docs/reference/poller.md). Serial\n"
    "lines are listened to first, and left alone when another master is heard. Nothing is written to any meter.";

void add_bus_poll(CLI::App& app, BusPollOptions& options, int& status) {
    auto* const poll = bus_of(app).add_subcommand("poll", poll_help);
    poll->add_option("--plan", options.plan_file, "The plan of the site (docs/reference/plan.md)")->required();
    poll->add_option("--ports", options.ports_file, "The ports that virtual meters took: what phasewright twin --ports wrote");
    poll->add_option("--interval", options.interval_s, "How often each meter is read, in s")
        ->check(CLI::Range(0.1, 86400.0))
        ->capture_default_str();
    poll->add_option("--for", options.for_s, "For how long, in s (default: until it is interrupted)")
        ->check(CLI::Range(0.1, 1e9));
    poll->add_option("--profiles", options.profiles_folder, "Folder of meter profiles (default: those that came along)");
    poll->add_flag("--json", options.json, "One JSON object an event instead of lines for people");
    poll->callback([&] { status = run_bus_poll(options, std::cout, std::cerr); });
}

constexpr auto profile_check_help =
    "What a profile leaves open or says strangely; with a live meter also whether its registers hold what the profile\n"
    "says (docs/tasks/write-a-profile.md). Only reads. Exit status: 0 when nothing is to mend, 1 when something is, 2\n"
    "when the profile or the meter could not be read.";

void add_profile(CLI::App& app, ProfileCheckOptions& options, int& status) {
    auto* const profile = app.add_subcommand("profile", "Meter profiles (docs/reference/profile.md)");
    profile->require_subcommand(1);
    auto* const check = profile->add_subcommand("check", profile_check_help);
    check->add_option("FILE", options.profile_file, "The profile")->required();
    auto* const live = check->add_option("--live", options.live, "Try it against the meter at HOST[:PORT]");
    auto* const serial = check->add_option("--serial", options.serial, "or on this serial port: /dev/ttyUSB0")->excludes(live);
    check->add_option("--format", options.format, "of the serial line")->needs(serial)->capture_default_str();
    check->add_option("--unit", options.unit, "Modbus unit id")->check(CLI::Range(0, 255))->capture_default_str();
    check->add_option("--nominal", options.nominal, "Rated voltages as the meter is meant to show them, V_LN/V_LL: 230/400");
    check->add_option("--hz", options.hz, "Rated frequency")->check(CLI::Range(40.0, 70.0))->capture_default_str();
    check->add_option("--times", options.times, "How often it is read")->check(CLI::Range(1, 100))->capture_default_str();
    check->add_option("--every-s", options.every_s, "Time between two of them, in s")->check(CLI::Range(0.0, 3600.0))->capture_default_str();
    check->add_flag("--json", options.json, "One JSON object instead of lines for people");
    check->callback([&] { status = profile_check_command(options, std::cout, std::cerr); });
}

constexpr auto program_help =
    "The settings of the plan against those in the meters: planned, in the meter, would write. Nothing is written\n"
    "without --write and the meter's name typed (or given with --confirm); what was found is kept first, --undo puts it\n"
    "back (docs/tasks/program-meters.md). A sealed meter is never written, and nothing is ever broadcast.\n"
    "Exit status: 0 when all is as planned or was made so, 1 when something differs or was not written, 2 when it\n"
    "could not be done.";

void add_program(CLI::App& app, ProgramOptions& options, int& status) {
    auto* const program = app.add_subcommand("program", program_help);
    program->add_option("--plan", options.plan_file, "The plan of the site (docs/reference/plan.md)")->required();
    program->add_option("--ports", options.ports_file, "The ports that the plan left open");
    program->add_option("--profiles", options.profiles_folder, "Folder of meter profiles (default: those that came along)");
    program->add_option("--point", options.points, "This point's meter, by its id; may be given again");
    program->add_option("--line", options.lines, "All meters of this serial line or gateway; may be given again");
    program->add_flag("--all", options.all, "All meters of the plan");
    program->add_option("--at", options.at, "The one --point's meter answers at this address now");
    program->add_option("--at-format", options.at_format, "and in this format: 9600-8N1");
    program->add_flag("--write", options.write, "Write what differs, after a confirmation for each meter");
    program->add_flag("--finish", options.finish, "Finish what was cut off");
    program->add_flag("--undo", options.undo, "Put back what was found before the last writing");
    program->add_option("--confirm", options.confirmed, "Confirm this point without typing it; may be given again");
    program->add_option("--journal", options.journal_file, "The settings journal (default: PLAN-settings.jsonl beside the plan)");
    program->add_flag("--json", options.json, "One JSON object a meter instead of lines for people");
    program->callback([&] { status = program_command(options, std::cin, std::cout, std::cerr); });
}
}  // namespace

int main(int argc, char** argv) {
    CLI::App app{about, "phasewright"};
    app.set_version_flag("--version", std::string{"phasewright "} + PHASEWRIGHT_VERSION);
    app.require_subcommand(1);
    int status = 0;
    ProveOptions prove;
    prove.program = std::string{"phasewright "} + PHASEWRIGHT_VERSION;
    DiagnoseOptions diagnose;
    TwinOptions twin;
    add_prove(app, prove, status);
    add_diagnose(app, diagnose, status);
    add_twin(app, twin, status);
    DecodeOptions decode;
    add_decode(app, decode, status);
    ConfirmOptions confirm;
    add_confirm(app, confirm, status);
    RestateOptions restate;
    add_restate(app, restate, status);
    add_mistakes(app);
    BusRoundOptions bus_round;
    add_bus_round(app, bus_round, status);
    BusFindOptions bus_find;
    add_bus_find(app, bus_find, status);
    BusCheckOptions bus_check;
    add_bus_check(app, bus_check, status);
    BusPollOptions bus_poll;
    add_bus_poll(app, bus_poll, status);
    ProfileCheckOptions profile_check;
    add_profile(app, profile_check, status);
    ProgramOptions program;
    add_program(app, program, status);
    PlanOptions plan;
    add_plan(app, plan, status);
    RecordOptions record;
    add_job(app, record, status);
    EvidenceOptions evidence;
    add_evidence(app, evidence, status);
    try {
        app.parse(argc, argv);
    } catch (CLI::ParseError const& error) {
        return app.exit(error) == 0
                   ? 0
                   : some_not_answered;  // a wrong word on the command line is 2, like the rest
    }
    return status;
}

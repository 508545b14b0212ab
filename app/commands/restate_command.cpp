#include "app/commands/restate_command.hpp"

#include <filesystem>
#include <ostream>

#include "app/commands/diagnose_command.hpp"
#include "app/commands/interval_file.hpp"
#include "app/commands/restate_inputs.hpp"
#include "app/commands/restate_words.hpp"
#include "app/commands/whole_file.hpp"
#include "core/readings/check.hpp"

namespace phasewright::commands {

using quantity::Fault;

namespace {
std::optional<Fault> set_limit(RestateOptions const& options, IntervalFile const& file,
                               correction::Question& question) {
    auto const days = options.limit_days ? options.limit_days : file.limit_days;
    if (!days) {
        if (options.limit_until.empty()) return std::nullopt;
        return Fault{"there is an end of the limit, but no limit", "--limit-until", options.limit_until,
                     "--limit-days beside it", "say how many days the rules of the place allow"};
    }
    if (!(*days > 0.0))
        return Fault{"the limit is not a number of days", "--limit-days", std::to_string(*days),
                     "a number above 0", "leave it out for no limit"};
    question.limit = correction::Limit{*days, file.end_s};
    if (options.limit_until.empty()) return std::nullopt;
    auto const until = readings::seconds_of(options.limit_until);
    if (!until)
        return Fault{"the end of the limit is not a time",
                     "--limit-until",
                     options.limit_until,
                     "ISO 8601 with offset, such as 2026-05-20T10:00:00+02:00",
                     {}};
    question.limit->until_s = *until;
    return std::nullopt;
}

std::optional<Fault> fits_data(correction::Question const& question, IntervalFile const& file) {
    if (question.lag && !file.data.load_lag_rad.empty())
        return Fault{"the load's angle was told twice",
                     "--pf, load_lag_deg",
                     {},
                     "one of them",
                     "the column says it interval by interval"};
    return std::nullopt;
}

std::expected<int, Fault> restated(RestateOptions const& options, std::ostream& out) {
    std::string verdicts;
    if (!options.verdict_file.empty()) {
        auto text = text_of(options.verdict_file, "verdicts");
        if (!text) return std::unexpected(text.error());
        verdicts = std::move(*text);
    }
    auto question = question_of(options, verdicts);
    if (!question) return std::unexpected(question.error());
    auto const text = text_of(options.data_file, "interval data");
    if (!text) return std::unexpected(text.error());
    if (options.interval_s && !(*options.interval_s > 0.0))
        return std::unexpected(Fault{"the interval is not a duration", "--interval",
                                     std::to_string(*options.interval_s), "seconds above 0",
                                     "900 is a quarter of an hour"});
    auto const file = read_intervals(*text, options.data_file,
                                     {question->model.elements.size(), question->kind, options.interval_s});
    if (!file) return std::unexpected(file.error());
    if (auto fault = set_limit(options, *file, *question)) return std::unexpected(*fault);
    if (auto fault = fits_data(*question, *file)) return std::unexpected(*fault);
    auto const result = correction::restate(*question, file->data);
    RestatedFile const all{options, *question, *file, result};
    if (!options.out_file.empty())
        if (auto const written = write_whole(options.out_file, corrected_csv(all), "corrected series", "name another file with --out");
            !written)
            return std::unexpected(written.error());
    out << (options.json ? json_line_of(all) + "\n" : words_of(all));
    return result.refusal ? some_not_answered : all_answered;
}
}  // namespace

int restate_command(RestateOptions const& options, std::ostream& out, std::ostream& err) {
    auto const status = restated(options, out);
    if (status) return *status;
    err << "phasewright restate: " << to_sentence(status.error()) << '\n';
    return some_not_answered;
}

}  // namespace phasewright::commands

#include "core/chain/class_tables.hpp"

#include <algorithm>

namespace phasewright::chain {

namespace {
void append(std::vector<TransformerClass>& to, std::vector<TransformerClass> from) {
    for (auto& of : from) to.push_back(std::move(of));
}

// "1.0" and "1" are one class.
std::string short_word(std::string word) {
    if (word.ends_with(".0")) word.erase(word.size() - 2);
    return word;
}

TransformerClass const* transformer_class(std::vector<TransformerClass> const& classes,
                                          std::string_view text) {
    auto const word = short_word(written_class(text).word);
    auto const found = std::ranges::find(classes, word, &TransformerClass::word);
    return found == classes.end() ? nullptr : &*found;
}

// The widest limit that a class has at its rated current and power factor 1: how good it is in one number.
double main_limit(MeterClass const& of) {
    return limit_at(of, {.share_of_rated = 1.0}).percent.value_or(100.0);
}
}  // namespace

ClassTables const& built_in_tables() {
    static ClassTables const tables = [] {
        ClassTables all;
        append(all.ct, iec_ct_classes());
        append(all.ct, ieee_ct_classes());
        all.vt = vt_classes();
        for (auto const& some :
             {iec_meter_classes(), ansi_meter_classes(), eu_meter_classes(), pmd_classes()})
            all.meters.insert(all.meters.end(), some.begin(), some.end());
        return all;
    }();
    return tables;
}

TransformerClass const* ct_class(ClassTables const& tables, std::string_view text) {
    return transformer_class(tables.ct, text);
}
TransformerClass const* vt_class(ClassTables const& tables, std::string_view text) {
    return transformer_class(tables.vt, text);
}

MeterClass const* meter_class(ClassTables const& tables, std::string_view standard, std::string_view word) {
    auto const plain = short_word(written_class(word).word);
    auto const found = std::ranges::find_if(tables.meters, [&](MeterClass const& of) {
        return of.word == plain && standard.find(of.source.standard) != std::string_view::npos;
    });
    return found == tables.meters.end() ? nullptr : &*found;
}

MeterClass const* meter_class(ClassTables const& tables, plan::MeterHardware const& meter) {
    MeterClass const* narrowest = nullptr;
    for (auto const& said : meter.accuracy) {
        if (said.reactive) continue;
        auto const* const of = meter_class(tables, said.standard, said.word);
        if (of && (!narrowest || main_limit(*of) < main_limit(*narrowest))) narrowest = of;
    }
    return narrowest;
}

ClassTables confirmed(ClassTables tables, std::string_view standard, std::string_view edition) {
    auto const mark = [&](Citation& source) {
        if (source.standard != standard) return;
        source.confirmed = true;
        source.edition = edition;
    };
    for (auto& of : tables.ct) mark(of.source);
    for (auto& of : tables.vt) mark(of.source);
    for (auto& of : tables.meters) mark(of.source);
    return tables;
}

}  // namespace phasewright::chain

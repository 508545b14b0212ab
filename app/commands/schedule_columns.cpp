#include "app/commands/schedule_columns.hpp"

#include <algorithm>
#include <array>

namespace phasewright::commands {

namespace {
using enum Content;

constexpr std::array heads{
    ColumnHead{Column::id, "point", "", text, "id|tag|point id|metering point|meter tag|meter id|ref|reference|mark|messpunkt|messstelle|repere|codigo"},
    ColumnHead{Column::name, "name", "", text, "description|designation|bezeichnung|tenant|descripcion|descrizione|nombre|nom|nome"},
    ColumnHead{Column::panel, "panel", "", text, "panelboard|board|switchboard|distribution board|db|verteiler|verteilung|tableau|cuadro|quadro"},
    ColumnHead{Column::way, "way", "", text, "circuit|circuit no|circuit number|breaker no|breaker number|pole|poles|space|stromkreis|abgang|depart|circuito"},
    ColumnHead{Column::parent, "parent", "", text, "upstream meter|parent meter|main meter"},
    ColumnHead{Column::installed, "installed", "", text, "built"},
    ColumnHead{Column::service, "service", "", text, "system|wiring|phases|network|netzform|anschlussart|reseau|service type"},
    ColumnHead{Column::purpose, "purpose", "", text, "load description|serves|feeds|zweck|verbraucher|usage"},
    ColumnHead{Column::use, "use of the figures", "", text, "use|used for|purpose kind|metering purpose"},
    ColumnHead{Column::load, "load", "", text, "load kind|load type|type of load|lastart"},
    ColumnHead{Column::flow, "flow", "", text, "energy flow|direction"},
    ColumnHead{Column::breaker, "breaker", "A", number, "breaker rating|breaker size|mcb|mccb|ocpd|rating|breaker amps|absicherung|sicherung|disjoncteur|calibre|interruttore|interruptor"},
    ColumnHead{Column::least, "least current", "A", number, "least|min current|minimum current|min load|mindeststrom"},
    ColumnHead{Column::usual, "usual current", "A", number, "usual|typical current|normal current|load current|expected current|betriebsstrom"},
    ColumnHead{Column::most, "most current", "A", number, "most|max current|maximum current|peak current|max load|hoechststrom"},
    ColumnHead{Column::power_factor, "power factor", "", number, "pf|cos phi|cosphi|cos f|leistungsfaktor|facteur de puissance"},
    ColumnHead{Column::accuracy, "accuracy wanted", "%", number, "accuracy|genauigkeit|precision"},
    ColumnHead{Column::cables_per_phase, "cables per phase", "", number, "conductors per phase|parallel cables|cables phase|sets|parallele kabel"},
    ColumnHead{Column::cable, "cable", "", size, "cable size|conductor|conductor size|wire size|wire|kabel|querschnitt|section|seccion|sezione"},
    ColumnHead{Column::cable_diameter, "cable diameter", "mm", number, "conductor diameter|outside diameter|od|cable od|aussendurchmesser"},
    ColumnHead{Column::ct_ratio, "CT ratio", "", ratio, "ct|ratio|ct size|cts|wandler|stromwandler|wandlerverhaeltnis|uebersetzung|tc|rapport tc|relacion tc|ta"},
    ColumnHead{Column::ct_primary, "CT primary", "A", number, "primary|primary current|ct rating|primaerstrom|primaire"},
    ColumnHead{Column::ct_secondary, "CT secondary", "", text, "secondary|secondary current|sekundaerstrom|secondaire"},
    ColumnHead{Column::ct_output, "CT output", "", text, "output|ct type|secondary output"},
    ColumnHead{Column::ct_class, "CT class", "", text, "class|accuracy class|klasse|classe|clase|genauigkeitsklasse"},
    ColumnHead{Column::ct_model, "CT model", "", text, "ct part|ct part no|ct part number"},
    ColumnHead{Column::ct_burden, "CT burden", "VA", number, "burden|rated burden|ct va|buerde|puissance de precision"},
    ColumnHead{Column::lead_length, "lead length", "m", number, "lead|ct lead|ct lead length|length|distance|leitungslaenge|laenge|longueur|longitud|lunghezza"},
    ColumnHead{Column::lead_size, "lead size", "", size, "ct lead size|ct wire|ct wire size|lead wire"},
    ColumnHead{Column::tap_size, "tap size", "", size, "voltage tap|voltage tap size|voltage wire|voltage wire size"},
    ColumnHead{Column::tap_fuse, "tap fuse", "A", number, "voltage fuse|voltage tap fuse|meter fuse|messsicherung"},
    ColumnHead{Column::meter, "meter", "", text, "meter type|meter model|meter profile|profile|zaehler|zaehlertyp|compteur|medidor|contatore"},
    ColumnHead{Column::serial_number, "serial number", "", text, "serial|serial no|serial nr|meter serial|meter serial number|sn|s n|seriennummer|zaehlernummer|numero de serie"},
    ColumnHead{Column::supply, "supply", "", text, "control supply|meter supply|auxiliary supply"},
    ColumnHead{Column::serial_line, "serial line", "", text, "line|bus|bus line|loop|trunk|modbus line|buslinie"},
    ColumnHead{Column::gateway, "gateway", "", text, "gw"},
    ColumnHead{Column::host, "host", "", text, "ip|ip address|host name|ip adresse|adresse ip"},
    ColumnHead{Column::port, "port", "", number, "tcp port"},
    ColumnHead{Column::unit, "unit", "", number, "unit id|address|modbus address|modbus id|device address|bus address|station|adresse|busadresse|modbus adresse|direccion|indirizzo"},
    ColumnHead{Column::position, "position", "", number, "position on line|place on line|place"},
};

struct Spelling {
    std::string_view letter;
    std::string_view plain;
};
constexpr std::array spelt{Spelling{"\xC3\xA4", "ae"}, Spelling{"\xC3\xB6", "oe"}, Spelling{"\xC3\xBC", "ue"}, Spelling{"\xC3\x84", "ae"},
                           Spelling{"\xC3\x96", "oe"}, Spelling{"\xC3\x9C", "ue"}, Spelling{"\xC3\x9F", "ss"}, Spelling{"\xC3\xA9", "e"},
                           Spelling{"\xC3\xA8", "e"},  Spelling{"\xC3\xAA", "e"},  Spelling{"\xC3\x89", "e"},  Spelling{"\xC3\xA0", "a"},
                           Spelling{"\xC3\xB3", "o"},  Spelling{"\xC3\xA1", "a"},  Spelling{"\xC3\xAD", "i"},  Spelling{"\xC3\xBA", "u"},
                           Spelling{"\xC3\xB1", "n"},  Spelling{"\xC3\xA7", "c"},  Spelling{"\xC2\xB2", "2"},  Spelling{"\xCF\x86", "phi"}};

struct UnitWord {
    std::string_view word;
    std::string_view of;  // the unit that it is a multiple of
    double factor;
};
constexpr std::array unit_words{UnitWord{"a", "A", 1.0},       UnitWord{"amp", "A", 1.0},     UnitWord{"amps", "A", 1.0},
                                UnitWord{"ampere", "A", 1.0},  UnitWord{"ka", "A", 1000.0},   UnitWord{"m", "m", 1.0},
                                UnitWord{"cm", "m", 0.01},     UnitWord{"mm", "m", 0.001},    UnitWord{"ft", "m", 0.3048},
                                UnitWord{"feet", "m", 0.3048}, UnitWord{"in", "m", 0.0254},   UnitWord{"inch", "m", 0.0254},
                                UnitWord{"mm", "mm", 1.0},     UnitWord{"cm", "mm", 10.0},    UnitWord{"in", "mm", 25.4},
                                UnitWord{"inch", "mm", 25.4},  UnitWord{"%", "%", 1.0},       UnitWord{"percent", "%", 1.0},
                                UnitWord{"va", "VA", 1.0}};

Column const* column_called(std::string const& plain) {
    for (auto const& head : heads) {
        if (plain_header(head.header) == plain) return &head.column;
        for (auto rest = head.spellings; !rest.empty();) {
            auto const bar = std::min(rest.find('|'), rest.size());
            if (rest.substr(0, bar) == plain) return &head.column;
            rest.remove_prefix(std::min(bar + 1, rest.size()));
        }
    }
    return nullptr;
}
}  // namespace

std::span<ColumnHead const> all_columns() { return heads; }

ColumnHead const& head_of(Column column) { return *std::ranges::find(heads, column, &ColumnHead::column); }

std::string header_text(ColumnHead const& head) {
    return std::string{head.header} + (head.unit.empty() ? "" : " (" + std::string{head.unit} + ")");
}

std::string plain_header(std::string_view text) {
    std::string plain;
    auto const add = [&plain](std::string_view letters) { plain += letters; };
    while (!text.empty()) {
        auto const known = std::ranges::find_if(spelt, [&](Spelling const& one) { return text.starts_with(one.letter); });
        if (known != spelt.end()) {
            add(known->plain);
            text.remove_prefix(known->letter.size());
            continue;
        }
        char const c = text.front();
        bool const upper = c >= 'A' && c <= 'Z';
        bool const kept = (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '%';
        if (upper) plain += static_cast<char>(c - 'A' + 'a');
        else if (kept) plain += c;
        else if (!plain.empty() && plain.back() != ' ') plain += ' ';
        text.remove_prefix(1);
    }
    while (!plain.empty() && plain.back() == ' ') plain.pop_back();
    return plain;
}

std::optional<Unit> unit_of(std::string_view unit, ColumnHead const& head) {
    auto const plain = plain_header(unit);
    if (head.content == size) {
        if (plain == "mm2" || plain == "sq mm" || plain == "sqmm" || plain == "mm 2") return Unit{1.0, plan::SizeUnit::mm2};
        if (plain == "awg") return Unit{1.0, plan::SizeUnit::awg};
        if (plain == "kcmil" || plain == "mcm") return Unit{1.0, plan::SizeUnit::kcmil};
        return std::nullopt;
    }
    if (head.content == ratio && plain == "a") return Unit{};
    for (auto const& word : unit_words)
        if (word.of == head.unit && word.word == plain) return Unit{word.factor, std::nullopt};
    return std::nullopt;
}

std::optional<KnownHeader> known_header(std::string_view text) {
    auto const plain = plain_header(text);
    if (auto const* const column = column_called(plain)) return KnownHeader{*column, {}};
    for (auto at = plain.rfind(' '); at != std::string::npos && at > 0; at = plain.rfind(' ', at - 1)) {
        auto const* const column = column_called(plain.substr(0, at));
        if (column == nullptr) continue;
        if (auto const unit = unit_of(plain.substr(at + 1), head_of(*column))) return KnownHeader{*column, *unit};
        return std::nullopt;  // a unit that does not fit is no such column
    }
    return std::nullopt;
}

}  // namespace phasewright::commands

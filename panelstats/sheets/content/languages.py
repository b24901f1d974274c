"""Headings in other languages: the words that matter, as general dictionaries of each language give them."""

from __future__ import annotations

from panelstats.scores.cells import DESCRIPTOR, LOT, POT, SCORE, SESSION, STAGE, TASTER
from panelstats.scores.spelling import plain

# German, French, Spanish, Portuguese; then Chinese, Hindi, Japanese.
FOREIGN: dict[str, tuple[str, ...]] = {
    LOT: ("los", "partie", "losnummer", "partienummer", "chargennummer", "charge", "muster", "probe",
          "probennummer", "musternummer", "lotnummer", "losnr", "partienr", "chargennr", "probennr", "musternr", "tee",
          "lot no", "numero de lot", "no de lot", "n° de lot", "echantillon", "the",
          "lote", "muestra", "numero de lote", "no de lote", "nº de lote", "te",
          "amostra", "cha",
          "批号", "批次", "批", "样品", "样品编号", "茶样",
          "लॉट", "लॉट संख्या", "नमूना", "खेप",
          "ロット", "ロット番号", "試料", "サンプル", "見本"),
    TASTER: ("verkoster", "verkosterin", "prufer", "pruferin", "taster", "verkostet von", "koster",
             "degustateur", "degustatrice", "gouteur", "dégustateur", "goute par",
             "catador", "catadora", "degustador", "evaluador", "juez",
             "provador", "provadora", "degustadora", "avaliador",
             "品评员", "评茶员", "品鉴员", "审评员", "评审员", "品茶师",
             "चखने वाला", "परीक्षक", "स्वाद परीक्षक", "टेस्टर",
             "審査員", "鑑定者", "評価者", "テイスター", "担当者"),
    SESSION: ("sitzung", "datum", "woche", "verkostung", "verkostungsdatum", "termin",
              "seance", "jour", "semaine", "date de degustation",
              "sesion", "fecha", "dia", "semana", "fecha de cata",
              "sessao", "data", "data da prova",
              "日期", "场次", "批次日期", "审评日期", "周",
              "सत्र", "तारीख", "दिनांक", "तिथि",
              "日付", "セッション", "回", "審査日"),
    POT: ("kanne",  "tasse", "schale", "theiere", "tasse no", "bol", "infusion no",
          "tetera", "taza", "cuenco", "bule", "xicara", "chavena", "tigela",
          "壶", "杯", "碗", "प्याला", "केतली", "बर्तन", "कप", "ポット", "急須", "カップ", "碗番号"),
    "grade": ("grad", "blattgrad", "sorte", "sortierung", "calibre", "grado", "grau", "等级", "级别", "ग्रेड", "श्रेणी",
              "等級", "グレード"),
    "garden": ("garten", "plantage", "teegarten", "jardin", "plantation", "plantacion", "finca", "jardim",
               "plantacao", "fazenda",
               "茶园", "产地", "बागान", "चाय बागान", "茶園", "農園"),
    "remark": ("bemerkung", "bemerkungen", "anmerkung", "anmerkungen", "kommentar", "notiz", "notizen",
               "remarque", "remarques", "commentaire", "commentaires", "observacion", "observaciones",
               "comentario", "comentarios", "notas",
               "observacao", "observacoes", "备注", "评语", "说明", "टिप्पणी", "टिप्पणियाँ", "備考", "コメント",
               "所見", "メモ"),
    "money": ("preis", "prix", "precio", "preco", "价格", "单价", "मूल्य", "कीमत", "दाम", "価格", "値段", "単価"),
    "fact": ("kilogramm", "kilo", "kilos", "menge", "gewicht", "kilogrammes", "poids", "quantite", "kilogramos",
             "peso", "cantidad",
             "quilogramas", "quilos", "quantidade", "公斤", "千克", "重量", "数量", "किलोग्राम", "किलो", "वजन",
             "キログラム", "キロ"),
    DESCRIPTOR: ("merkmal", "eigenschaft", "descripteur", "caracteristique", "attribut", "descriptor",
                 "atributo", "caracteristica",
                 "descritor", "因子", "审评因子", "指标", "特征", "गुण", "विशेषता", "特性", "項目", "評価項目"),
    SCORE: ("punkte", "punktzahl", "wert", "bewertung", "note d'evaluation", "valeur", "puntuacion", "puntaje",
            "valor", "nota", "pontuacao",
            "分数", "得分", "评分", "अंक", "点数", "評点", "得点"),
    STAGE: ("stufe", "etape", "etapa", "fase", "阶段", "चरण", "段階"),
}  # fmt: skip
# The stages: dry leaf, infused leaf, liquor.
FOREIGN_STAGES: dict[str, tuple[str, ...]] = {
    "dry leaf": ("trockenes blatt", "trockenblatt", "feuille seche", "feuilles seches", "hoja seca",
                 "folha seca", "干茶", "外形",
                 "सूखी पत्ती", "乾燥葉", "茶葉", "外観"),
    "infused leaf": ("aufgegossenes blatt", "nasses blatt", "feuille infusee", "feuilles infusees",
                     "hoja infusionada", "hoja humeda",
                     "folha infundida", "叶底", "भीगी पत्ती", "茶殻", "浸出葉"),
    "liquor": ("aufguss", "tasse", "tassenfarbe", "liqueur", "licor", "infusao",
               "汤色", "茶汤", "अर्क", "水色", "浸出液"),
}  # fmt: skip
# Words that tell two descriptors of one kind apart, and name nobody: English, German, French, Spanish, Portuguese.
QUALIFIERS: frozenset[str] = frozenset(map(plain, [
    "dry", "wet", "hot", "cold", "warm", "cool", "with", "without", "before", "after", "first", "second",
    "third", "early", "late", "top", "bottom", "left", "right", "light", "dark", "plain", "milk", "sugar",
    "fresh", "upper", "lower", "high", "low", "start", "end",
    "mit", "ohne", "heiß", "kalt", "trocken", "nass", "vorher", "nachher",
    "avec", "sans", "chaud", "froid", "sec", "humide", "avant", "après",
    "con", "sin", "caliente", "frío", "seco", "húmedo", "antes", "después",
    "com", "sem", "quente", "frio", "úmido", "depois",
]))  # fmt: skip
# The parts of a day: they name nobody, and no stage.
DAY_PARTS = frozenset(["morning", "afternoon", "evening", "am", "pm"])

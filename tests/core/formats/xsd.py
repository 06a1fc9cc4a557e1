"""The MusicXML 4.0 schema of the `musicxml` wheel, offline; its imports are in `xmlschema`."""

from functools import lru_cache
from importlib.resources import as_file, files

from lxml import etree


class _Offline(etree.Resolver):
    def resolve(self, url, public_id, context):
        where = {"xml.xsd": "XML/xml.xsd", "xlink.xsd": "XLINK/xlink.xsd"}
        inside = where.get(url.rsplit("/", 1)[-1])
        if inside is None:
            return None
        data = files("xmlschema").joinpath("schemas", *inside.split("/")).read_bytes()
        return self.resolve_string(data, context, base_url=url)


@lru_cache(maxsize=1)
def schema():
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(_Offline())
    with as_file(files("musicxml") / "generate_classes" / "musicxml_4_0.xsd") as path:
        return etree.XMLSchema(etree.parse(str(path), parser))


def errors(data: bytes) -> list[str]:
    """What the schema finds wrong with a file."""
    document = etree.fromstring(data, etree.XMLParser(load_dtd=False, no_network=True))
    schema().validate(document)
    return [f"line {e.line}: {e.message}" for e in schema().error_log]
